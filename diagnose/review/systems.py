"""What is known of each system of the job: its causes, its checks, the proofs that are due when it was worked on, the
practice calls in which it is at fault, and its share of all calls."""

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
# A base rate above this part of its system's is one that decides much.
_HEAVY = 0.1


class System(msgspec.Struct, frozen=True):
    """A system and how many of each thing it has; ``counts`` has the keys of ``LEAST``, ``share`` is of all calls."""

    id: str
    title: str
    counts: Mapping[str, int]
    share: float = 0.0

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
    weights = _weights(trees)
    together = sum(cause.base for cause in trees.causes.values()) or 1.0
    return tuple(
        System(each.id, each.title, {name: counted[each.id] for name, counted in found.items()}, weight / together)
        for each, weight in ((each, weights[each.id]) for each in trees.systems.values())
    )


def _weights(trees: Trees) -> dict[str, float]:
    """The base rates of each system's causes together; a cause of several counts in each for its part."""
    weights = dict.fromkeys(trees.systems, 0.0)
    for cause in trees.causes.values():
        for name in cause.system:
            weights[name] += cause.base / len(cause.system)
    return weights


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


@rule("share-left", "warning")
def share_left(book: Book) -> Iterator[Finding]:
    """The base rates of a system's causes come to more or less of all calls than the system says it has.

    A system writes between which shares it lies, and where they come from: a published figure, a shop's count, or an
    estimate and its reason. A cause of two systems counts half in each. Rates are relative: the share is of their sum.

    Passes:
        systems: {springs: {title: Springs, share: 9 to 13 per 100 calls, source: "estimate, …"}}   # they come to 11
    Fails:
        systems: {springs: {title: Springs, share: 9 to 13 per 100 calls, source: "estimate, …"}}   # they come to 4
    """
    for found in systems(book.trees):
        share = book.trees.systems[found.id].share
        if share is not None and not share[0] <= found.share <= share[1]:
            low, high = (f"{100 * end:.3g}" for end in share)
            wrong = f"The causes of '{found.id}' come to {100 * found.share:.3g} of 100 calls, not to {low} to {high}."
            yield Finding(book.place("systems", found.id), wrong, "Change what is out of line: a rate, or the share.")


@rule("share-unsaid", "warning")
def share_unsaid(book: Book) -> Iterator[Finding]:
    """A system without its share of all calls where others say theirs, or one whose share comes from nowhere.

    Passes:
        systems: {springs: {title: Springs, share: 9 to 13 per 100 calls, source: "estimate, cycles a day"}}
    Fails:
        systems: {springs: {title: Springs, share: 9 to 13 per 100 calls}}
    """
    said = any(system.share is not None for system in book.trees.systems.values())
    for name, system in book.trees.systems.items() if said else ():
        if system.share is None:
            mend = "Write 'share: 2 to 4 per 100 calls', and 'source:' with it."
            yield Finding(book.place("systems", name), f"'{name}' does not say its share of all calls.", mend)
        elif "source" not in book.written("systems", name):
            mend = "Write 'source:' in it: a published figure, a shop's count, or 'estimate' and the reason."
            yield Finding(book.place("systems", name), f"The share of '{name}' comes from nowhere.", mend)


@rule("heavy-unreasoned", "warning")
def heavy_unreasoned(book: Book) -> Iterator[Finding]:
    """A base rate of more than a tenth of its system's that does not say of itself where it comes from.

    Such a number decides much, so the word at the top of its file is not enough: a source, or an estimate and why.

    Passes:
        causes: {spring-broken: {base: 95 per 1000 calls, source: "estimate, 10000 cycles", system: springs, …}}
    Fails:
        causes: {spring-broken: {base: 95 per 1000 calls, system: springs, …}}
    """
    weights = _weights(book.trees)
    for name, cause in book.trees.causes.items():
        parts = [cause.base / len(cause.system) / weights[system] for system in cause.system]
        if parts and max(parts) > _HEAVY and "source" not in book.written("causes", name):
            heaviest = cause.system[parts.index(max(parts))]
            wrong = f"'{name}' is {100 * max(parts):.0f} % of '{heaviest}', and says nothing of where that comes from."
            mend = "Write 'source:' in it: a published figure, a shop's count, or 'estimate' and the reason."
            yield Finding(book.place("causes", name, "base"), wrong, mend)
