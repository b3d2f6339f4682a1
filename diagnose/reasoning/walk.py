"""Which checks the graph lets one reach from what is known.

A check that some answer *opens* waits for one of those answers, or for "could not tell" where it was asked;
every other check is reachable as soon as a suspect it bears on has been raised. What comes *before* a check is
part of the way to it, as are the readings a computed check is made from.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from diagnose.knowledge.amounts import read_band
from diagnose.knowledge.model import COULD_NOT_TELL, Check, Remedy, Trees, applies
from diagnose.reasoning.situation import Situation

# What is known of a check: a word, a number in the check's unit, a list of numbers, or "could not tell".
Known = str | float | tuple[float, ...]


@dataclass(frozen=True)
class Way:
    """The checks to do, in order, to have the last one answered; all but the last come before it."""

    goal: str
    steps: tuple[str, ...]


def reachable(
    situation: Situation, known: Mapping[str, Known], may_do: Collection[str], relaxed: bool = False
) -> list[Way]:
    """Each unanswered check that can be reached, with what has to come first.

    ``may_do`` are the people whose steps may be done. ``relaxed`` forgets what opens a check: used when all
    else is asked, so that one wrong answer does not lock the right cause out.
    """
    trees = situation.trees
    waiting = {} if relaxed else openers(trees)
    closed = {check for check, answer in known.items() for check in led_to(trees.checks.get(check), answer, "closes")}
    asked_first = {check for symptom in situation.symptoms for check in trees.symptoms[symptom].ask_first}
    ways = []
    for identity in situation.tables:
        if identity in known or (identity in closed and not relaxed):
            continue
        gates = waiting.get(identity)
        if gates and identity not in asked_first and not _opened(trees, identity, gates, known):
            continue
        way = way_to(situation, identity, known, may_do)
        # A computed check with every input answered and no value is one whose formula does not hold there.
        if way is not None and any(trees.checks[step].kind != "computed" for step in way.steps):
            ways.append(way)
    return ways


def way_to(situation: Situation, identity: str, known: Mapping[str, Known], may_do: Collection[str]) -> Way | None:
    """What is still to be done to answer a check, itself last; ``None`` where something stands in the way."""
    steps: list[str] = []
    if not _collect(situation, identity, known, may_do, steps):
        return None
    return Way(identity, tuple(steps))


def before(situation: Situation, remedy: Remedy, known: Mapping[str, Known], may_do: Collection[str]) -> list[Way]:
    """The ways to what has to be asked before a remedy is put; a check that cannot be done here is passed over."""
    waiting = [name for name in remedy.after if name not in known and _can_be(situation, name)]
    ways = (way_to(situation, name, known, may_do) for name in waiting)
    return [way for way in ways if way is not None]


def fits(trees: Trees, remedy: Remedy, known: Mapping[str, Known]) -> bool:
    """Whether no answer speaks against putting a remedy: it is not the thing to do for what was found."""
    return not keeping_back(trees, remedy, known)


def keeping_back(trees: Trees, remedy: Remedy, known: Mapping[str, Known]) -> list[str]:
    """The checks whose answers speak against putting a remedy."""
    return [
        check
        for check, allowed in remedy.after.items()
        if allowed and check in known and not _among(trees.checks[check], known[check], allowed)
    ]


def _can_be(situation: Situation, check: str) -> bool:
    return applies(situation.trees.checks[check].applies, situation.facts)


def _among(check: Check, answer: Known, allowed: Collection[str]) -> bool:
    """Whether an answer is one of those allowed; what could not be told speaks against nothing."""
    if isinstance(answer, str):
        return answer == COULD_NOT_TELL or answer in allowed
    bands = [bounds for band in allowed if (bounds := read_band(band, check.unit))]
    return isinstance(answer, tuple) or any(low <= answer <= high for low, high in bands)


def openers(trees: Trees) -> dict[str, set[str]]:
    """For each check that some answer opens, the checks that may open it."""
    found: dict[str, set[str]] = {}
    for check in trees.checks.values():
        for opened in check.opens.values():
            for identity in opened:
                found.setdefault(identity, set()).add(check.id)
    return found


def _collect(
    situation: Situation, identity: str, known: Mapping[str, Known], may_do: Collection[str], steps: list[str]
) -> bool:
    if identity in known or identity in steps:
        return known.get(identity) != COULD_NOT_TELL
    check = situation.trees.checks[identity]
    if not applies(check.applies, situation.facts) or (check.kind != "computed" and check.who not in may_do):
        return False
    for before, allowed in check.after.items():
        if before in known:
            if allowed and known[before] not in allowed:
                return False
        elif applies(situation.trees.checks[before].applies, situation.facts) and not _collect(
            situation, before, known, may_do, steps
        ):
            return False
    for name in inputs_of(situation.trees, check):
        if not _collect(situation, name, known, may_do, steps):
            return False
    if not all(_fact_known(situation, written) for written in check.inputs.values()):
        return False
    steps.append(identity)
    return True


def inputs_of(trees: Trees, check: Check) -> list[str]:
    """The checks a computed check takes its numbers from."""
    return [name for name in check.sources if name in trees.checks]


def _fact_known(situation: Situation, written: str) -> bool:
    if written not in situation.trees.facts or written in situation.trees.checks:
        return True
    return isinstance(situation.facts.get(written), str)


def _opened(trees: Trees, identity: str, gates: Iterable[str], known: Mapping[str, Known]) -> bool:
    for gate in gates:
        if gate not in known:
            continue
        if known[gate] == COULD_NOT_TELL or identity in led_to(trees.checks[gate], known[gate], "opens"):
            return True
    return False


def led_to(check: Check | None, answer: Known, field: str) -> tuple[str, ...]:
    """The checks that an answer opens or closes."""
    if check is None:
        return ()
    table: Mapping[str, tuple[str, ...]] = getattr(check, field)
    if isinstance(answer, str):
        return table.get(answer, ())
    if isinstance(answer, tuple):
        return ()
    led: tuple[str, ...] = ()
    for band, identities in table.items():
        bounds = read_band(band, check.unit)
        if bounds and bounds[0] <= answer <= bounds[1]:
            led += identities
    return led
