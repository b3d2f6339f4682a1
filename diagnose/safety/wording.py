"""What no text says: nothing that helps anybody to defeat a device, to wind a spring, or a caller to take a risk."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping

import msgspec

from diagnose.knowledge.checker import Book, Finding, rule
from diagnose.knowledge.model import KINDS, Phrase
from diagnose.knowledge.phrases import found_in
from diagnose.knowledge.texts import Written, texts
from diagnose.safety.hazards import steps, touches
from diagnose.safety.invariant import Visited, invariant


@invariant("dangerous-wording")
def dangerous_wording(book: Book, visited: Visited) -> Iterator[Finding]:
    """A text helps somebody to defeat a protection device, to wind a spring, or asks a caller to do more than look.

    The phrases are listed in shared/phrases.yaml and looked for in every text. An entry that a person has read, and
    that is right as it stands, says so: `reviewed: "A. Example, 4 May 2031: names what was found, asks to remove it"`.

    Passes:
        how: Measure across the eye's own two wires, the eye connected and the power locked off.
    Fails:
        how: Bridge the eye's two wires and see whether the door closes.
    """
    phrases = book.trees.phrases
    anywhere = {name: phrase for name, phrase in phrases.items() if phrase.where == "anywhere"}
    for written in texts(book.trees):
        forbidden = phrases if written.asks_of_caller else anywhere
        visited.add(len(forbidden))
        looking = functools.partial(_found, written.text, forbidden)
        heard = book.kept.once("wording", (forbidden, written.text.encode()), dict[str, str], looking)
        for name, found in heard.items():
            if not _reviewed(book, written):
                wrong = f"'{written.id}' says “{found}”: {phrases[name].title[0].lower()}{phrases[name].title[1:]}."
                yield Finding(book.place(written.kind, written.id, *written.field), wrong, phrases[name].mend)


def _found(text: str, forbidden: Mapping[str, Phrase]) -> dict[str, str]:
    """The wording that each of the phrases finds in a text."""
    found = {name: found_in(text, phrase.words, phrase.unless) for name, phrase in forbidden.items()}
    return {name: wording for name, wording in found.items() if wording}


@rule("reviewed-for-nothing", "warning")
def reviewed_for_nothing(book: Book) -> Iterator[Finding]:
    """A reviewer's note that does not say who and why, or on an entry that stumbles over no phrase any more.

    Passes:
        reviewed: "A. Example, 4 May 2031: names what was found, asks to remove it"
    Fails:
        reviewed: yes
    """
    trees = book.trees
    if not any(entry.reviewed for kind in KINDS for entry in book.entries(kind).values()):
        return
    stumbling = {
        (written.kind, written.id)
        for written in texts(trees)
        for phrase in trees.phrases.values()
        if (phrase.where == "anywhere" or written.asks_of_caller)
        and found_in(written.text, phrase.words, phrase.unless)
    }
    for kind, step in steps(trees):
        for hazard in trees.hazards.values():
            if hazard.words and touches(hazard, kind, msgspec.structs.replace(step, reviewed="")) is not None:
                stumbling.add((kind, step.id))
    for kind in dict.fromkeys([*(written.kind for written in texts(trees)), "remedies", "proofs", "checks"]):
        for identity, entry in book.entries(kind).items():
            if not entry.reviewed:
                continue
            place = book.place(kind, identity, "reviewed")
            if len(entry.reviewed.partition(":")[2].split()) < 3:
                yield Finding(place, f"The review of '{identity}' does not say who and why.", "Write 'who, when: why'.")
            elif (kind, identity) not in stumbling:
                wrong = f"'{identity}' is reviewed, and nothing in it needs to be."
                yield Finding(place, wrong, "Take 'reviewed:' out, lest it excuse a later wording.")


def _reviewed(book: Book, written: Written) -> bool:
    """Whether somebody has read it; a review answers for the translations too."""
    kind, identity = written.kind, written.id
    if written.translates:
        kind, identity = written.translates.split(".")[:2]
        if kind not in KINDS or identity not in book.entries(kind):
            return False
    return bool(book.entries(kind)[identity].reviewed)
