"""What is known of each system of the job: its causes, its checks, the proofs that are due when it was worked on, and
the practice calls in which it is at fault."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

import msgspec

from diagnose.knowledge.checker import Book, Finding, rule
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems
from diagnose.practice.library import read_library

# A system of which less is known than this is not covered: who is called to it is left alone.
_CALLS = "practice calls"
LEAST = {"causes": 4, "checks": 6, "proofs": 1, _CALLS: 1}


class System(msgspec.Struct, frozen=True):
    """A system and how many of each thing it has; ``counts`` has the keys of ``LEAST``."""

    id: str
    title: str
    counts: Mapping[str, int]

    @property
    def short_of(self) -> dict[str, int]:
        """What it has too little of, and how many there are to be."""
        return {name: least for name, least in LEAST.items() if self.counts[name] < least}


def systems(trees: Trees) -> tuple[System, ...]:
    """Every system that the trees name, in their order."""
    found = {
        "causes": Counter(name for cause in trees.causes.values() for name in cause.system),
        "checks": Counter(name for check in trees.checks.values() for name in check.system),
        "proofs": Counter(_due(trees)),
        _CALLS: Counter(_practised(trees)) if trees.systems else Counter[str](),
    }
    return tuple(
        System(each.id, each.title, {name: counted[each.id] for name, counted in found.items()})
        for each in trees.systems.values()
    )


def without(trees: Trees) -> tuple[str, ...]:
    """Causes of no system, where the trees have systems."""
    return tuple(cause.id for cause in trees.causes.values() if trees.systems and not cause.system)


def _due(trees: Trees) -> Iterator[str]:
    """The system of each proof that is due when the system was worked on: every door needs it, or the remedy does."""
    for proof in trees.proofs.values():
        for system in proof.system:
            done = {name for cause in trees.causes.values() if system in cause.system for name in cause.remedies}
            if proof.required == "yes" or any(proof.id in trees.remedies[name].proofs for name in done):
                yield system


def _practised(trees: Trees) -> Iterable[str]:
    """The systems at fault in each practice call that ships and is played with these trees."""
    library, _ = read_library(trees, None, Problems())
    for scenario in library.scenarios.values():
        yield from {system for cause in scenario.causes for system in trees.causes[cause].system}


@rule("system-thin")
def system_thin(book: Book) -> Iterator[Finding]:
    """A system of the job with fewer than four causes or six checks, or without a proof that is due.

    A proof is due when every door needs it, or a remedy for one of the system's causes names it. Of trees that name
    no systems nothing is asked.

    Passes:
        systems: {photo-eyes: {title: Photo eyes}}     # and four causes, six checks, a proof with 'system: photo-eyes'
    Fails:
        systems: {photo-eyes: {title: Photo eyes}}     # and nothing of that system
    """
    for system in systems(book.trees):
        short = {name: least for name, least in system.short_of.items() if name != _CALLS}
        if short:
            said = ", ".join(f"{system.counts[name]} {name} of {least}" for name, least in short.items())
            mend = f"Write 'system: {system.id}' in what is of it, or at the top of its file, and add what is missing."
            yield Finding(book.place("systems", system.id), f"'{system.id}' has too little: {said}.", mend)


@rule("system-unpractised", "warning")
def system_unpractised(book: Book) -> Iterator[Finding]:
    """A system of the job that no practice call that ships has a fault in.

    Of trees with which none of them is played, as a shop's own, nothing is asked: that shop's calls stand elsewhere.

    Passes:
        systems: {photo-eyes: {title: Photo eyes}}     # and a practice call on a door whose photo eye is dead
    Fails:
        systems: {photo-eyes: {title: Photo eyes}}     # and no practice call with a cause of that system
    """
    found = systems(book.trees)
    for system in found if any(each.counts[_CALLS] for each in found) else ():
        if _CALLS in system.short_of:
            wrong = f"No practice call has a fault of '{system.id}'."
            yield Finding(book.place("systems", system.id), wrong, "Write one: see scenarios/README.md.")


@rule("system-unsaid", "warning")
def system_unsaid(book: Book) -> Iterator[Finding]:
    """A cause that belongs to no system of the job, in trees that name systems.

    Passes:
        causes: {fuse-blown: {system: supply, …}}
    Fails:
        causes: {fuse-blown: {…}}                      # and its file says no 'system:' either
    """
    for name in without(book.trees):
        mend = "Write 'system:' in it, or at the top of its file: 'diagnose trees count' lists them."
        yield Finding(book.place("causes", name), f"'{name}' is of no system.", mend)


RULES = (system_thin, system_unpractised, system_unsaid)
