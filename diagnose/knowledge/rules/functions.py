"""Functions hang together with what takes them, shows them and misses them."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Finding, rule
from diagnose.knowledge.functions import chain_of


@rule("function-idle", "warning")
def function_idle(book: Book) -> Iterator[Finding]:
    """A function that no cause takes away, or that no check shows and no complaint lacks: it leads to nothing.

    A cause takes it by itself, or by something that it needs.

    Passes:
        functions: {lit: {title: The lamp is lit}}
        causes: {bulb-failed: {takes: {lit: lost}, …}}
        symptoms: {dark: {lacks: [lit], …}}
    Fails:
        functions: {lit: {title: The lamp is lit}}     # and no cause takes it
    """
    trees, chain = book.trees, chain_of(book.trees)
    taken = {function for cause in trees.causes.values() for function in chain.taken(cause)}
    told = {function for check in trees.checks.values() for function in check.shows}
    told |= {function for symptom in trees.symptoms.values() for function in symptom.lacks}
    for function in trees.functions.values():
        place = book.place("functions", function.id)
        if function.id not in taken:
            mend = "Write it among what a cause 'takes', or take it out."
            yield Finding(place, f"No cause takes '{function.id}' away.", mend)
        elif function.id not in told:
            mend = "Write it among what a check 'shows' or a symptom 'lacks', or take it out."
            yield Finding(place, f"Nothing shows whether '{function.id}' works.", mend)


@rule("keeps-what-is-lost")
def keeps_what_is_lost(book: Book) -> Iterator[Finding]:
    """A symptom keeps what it lacks, or what is lost with that.

    Passes:
        symptoms: {dark: {lacks: [lit], keeps: [fed], …}}
        functions: {fed: {…}, lit: {needs: [fed], …}}
    Fails:
        symptoms: {dark: {lacks: [fed], keeps: [lit], …}}
        functions: {fed: {…}, lit: {needs: [fed], …}}
    """
    chain = chain_of(book.trees)
    for symptom in book.trees.symptoms.values():
        for lacking, loss in symptom.lacks.items():
            gone = chain.below[lacking] if loss == "lost" else {lacking}
            for kept in sorted(gone & set(symptom.keeps)):
                wrong = f"'{symptom.id}' keeps '{kept}' and lacks '{lacking}', with which that is lost."
                place = book.place("symptoms", symptom.id, "keeps")
                yield Finding(place, wrong, "Keep less, or say more narrowly what is lacking.")


@rule("as-sound-for-nothing", "warning")
def as_sound_for_nothing(book: Book) -> Iterator[Finding]:
    """A cause says that a check looks as on a sound door, and has a sign on it, or nothing suggests another look.

    What suggests it: the check shows a function that the cause takes, or another cause that takes the same changes it.

    Passes:
        causes: {bulb-failed: {takes: {lit: lost}, as-sound: [socket-looks], …}}
        checks: {socket-looks: {shows: [lit], …}}
    Fails:
        causes: {bulb-failed: {takes: {lit: lost}, as-sound: [socket-looks], …}}
        checks: {socket-looks: {…}}            # shows nothing that the cause takes
    """
    trees, chain = book.trees, chain_of(book.trees)
    changed: dict[str, set[str]] = {}
    for cause in trees.causes.values():
        for name in cause.signs:
            changed.setdefault(name, set()).update(cause.takes)
    for cause in trees.causes.values():
        for name in cause.as_sound:
            place = book.place("causes", cause.id, "as-sound")
            if name in cause.signs:
                yield Finding(place, f"'{cause.id}' has a sign on '{name}' and calls it as sound.", "Keep one of both.")
                continue
            shown = not chain.taken(cause).keys().isdisjoint(trees.checks[name].shows)
            if not shown and changed.get(name, set()).isdisjoint(cause.takes):
                wrong = f"'{name}' shows nothing that '{cause.id}' takes away, so that it looks as sound in any case."
                yield Finding(place, wrong, "Take it out of 'as-sound'.")
