"""Rules for components and the sketches that show them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Fault, Finding, rule, rule_of
from diagnose.knowledge.components import marks_in
from diagnose.knowledge.doors import meet
from diagnose.knowledge.model import NOWHERE, STEPS, Sketch, Task

# Room for a sketch on a screen of 60 columns, a pointer at its right edge included.
_WIDEST = 55


@rule_of(["sketches"], "sketch-marks")
def sketch_marks(_: Book, sketch: Sketch) -> Iterator[Fault]:
    """A sketch has a mark that its list does not name, its list one that is not drawn, or it does not fit a screen.

    A mark is a capital letter with no letter beside it. At most 55 columns, each of one character.

    Passes:
        sketches: {kettle: {drawn: "A─┐", marks: {A: lid}, …}}
    Fails:
        sketches: {kettle: {drawn: "A─B", marks: {A: lid}, …}}
    """
    drawn = {letter for row in sketch.rows for _, letter in marks_in(row)}
    for letter in sorted(drawn - set(sketch.marks)):
        mend = f"Write '{letter}: component-id' below 'marks:', or draw it small."
        yield Fault(f"Mark {letter} of '{sketch.id}' names nothing.", mend, ("drawn",))
    for letter in sorted(set(sketch.marks) - drawn):
        mend = "Draw it as a capital letter that stands alone, or take it out."
        yield Fault(f"Mark {letter} of '{sketch.id}' is not drawn.", mend, ("marks", letter))
    for number, row in enumerate(sketch.rows, start=1):
        if len(row) > _WIDEST:
            yield Fault(f"Row {number} of '{sketch.id}' has {len(row)} columns.", f"Draw it in {_WIDEST}.", ("drawn",))
        if strange := [sign for sign in row if not _takes_one_column(sign)]:
            wrong = f"Row {number} of '{sketch.id}' has {strange[0]!r}, which does not take one column."
            yield Fault(wrong, "Draw it with another character.", ("drawn",))


def _takes_one_column(sign: str) -> bool:
    return sign.isprintable() and unicodedata.east_asian_width(sign) not in "WF"


@rule_of(STEPS.values(), "step-at-nothing", "warning")
def step_at_nothing(book: Book, step: Task) -> Iterator[Fault]:
    """A check, remedy, proof or job of which it is not known at which component it is done.

    Where it is, is shown to whoever asks. It is read from the title; where that names no component, 'at:' says it.

    Passes:
        components: {lid: {title: Lid, …}}
        checks: {shut: {ask: Is the lid shut?, …}, since-when: {ask: Since when?, at: nowhere, …}}
    Fails:
        components: {lid: {title: Lid, …}}
        checks: {since-when: {ask: Since when?, …}}
    """
    if book.trees.components and not step.at:
        wrong = f"The title of '{step.id}' names no component."
        yield Fault(wrong, "Write 'at: component-id', or 'at: nowhere'.")


@rule("caller-sees-nothing", "warning")
def caller_sees_nothing(book: Book) -> Iterator[Finding]:
    """A caller is asked of a component, and nothing is there to be read out when they ask where to look.

    Passes:
        components: {lid: {caller: "Look at the top of the kettle.", …}}
        checks: {shut: {ask: Is the lid shut?, caller: Is it shut?, at: lid, …}}
    Fails:
        components: {lid: {…}}
        checks: {shut: {ask: Is the lid shut?, caller: Is it shut?, at: lid, …}}
    """
    components = book.trees.components
    asked = {name: check.id for check in book.trees.checks.values() if check.caller for name in check.at}
    for name, check in asked.items():
        if name in components and not components[name].caller:
            wrong = f"A caller is asked '{check}' at '{name}', which has no words for where it is."
            mend = "Write 'caller:' there: how a layman sees it from the floor, hands off."
            yield Finding(book.place("components", name), wrong, mend)


@rule("component-not-drawn", "warning")
def component_not_drawn(book: Book) -> Iterator[Finding]:
    """A component is on no sketch, or on none of a door that has a step which is done at it.

    Passes:
        components: {lid: {…}}
        sketches: {kettle: {drawn: "A─┐", marks: {A: lid}, …}}
    Fails:
        components: {lid: {…}}                 # and no sketch marks it
    """
    trees = book.trees
    shown: dict[str, list[str]] = {}
    for sketch in trees.sketches.values():
        for component in sketch.marks.values():
            shown.setdefault(component, []).append(sketch.id)
    for component in trees.components:
        if component not in shown:
            wrong = f"'{component}' is on no sketch."
            yield Finding(book.place("components", component), wrong, "Mark it on one, or take it out.")
    for kind, task in book.trees.steps():
        for name in task.at:
            if name == NOWHERE or name not in shown:
                continue
            own = (task.applies, trees.components[name].applies)
            if not any(meet(trees, *own, trees.sketches[each].applies) for each in shown[name]):
                wrong = f"No sketch of a door that '{task.id}' is for shows '{name}'."
                yield Finding(book.place(kind, task.id), wrong, "Look at 'at:', and the sketches' 'applies'.")
