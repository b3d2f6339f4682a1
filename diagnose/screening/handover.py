"""From the phone to the door: the call goes on with all that was said, as a layman said it.

What a caller answered firmly is evidence, softer than what is seen, and is not asked again. What they could not tell is
open again for somebody who can look. And a few answers are worth a second look, with the reason said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.calls.call import Call
from diagnose.calls.inference import Finding, believed
from diagnose.calls.words import cause_title
from diagnose.knowledge.model import COULD_NOT_TELL
from diagnose.screening.danger import by_answer
from diagnose.screening.hearsay import chances
from diagnose.screening.sheet import Sheet, crew_people

# An answer this likely to be a slip, judged by everything else, is looked at again.
_DOUBTFUL = 0.35
_MOST = 4


@dataclass(frozen=True)
class Recheck:
    """A caller's answer that somebody at the door should see for themselves, and why."""

    check: str
    answer: str
    why: str


def hand_over(call: Call, sheet: Sheet) -> None:
    """Make a phone call ready for those who go: they are at the door with the parts that the sheet names, and what the
    caller could not tell is open."""
    for check, answer in call.state.answers.items():
        if answer.heard == "told" and answer.value == COULD_NOT_TELL:
            call.withdraw(check)
    people = crew_people(call.trees, sheet) or call.state.people
    load = {each.part: each.count for each in sheet.load.loads}
    if set(people) != set(call.state.people) or (load and load != call.state.load):
        call.state_people(people, load=load)


def worth_rechecking(call: Call) -> list[Recheck]:
    """The caller's answers to look at again at the door, the most important first; each with its reason.

    Those that do not fit the rest, or that alone hold up the leading cause, and those that said a danger is not there.
    """
    told = {check for check, answer in call.state.answers.items() if answer.heard == "told"}
    findings = [f for f in call.inference.findings if f.check.id in told and isinstance(f.value, str)]
    found: dict[str, tuple[float, Recheck]] = {}
    for finding in findings:
        for weight, why in (_danger(call, finding), _slip(call, finding), _lead(call, finding)):
            if why and weight > found.get(finding.check.id, (0.0, None))[0]:
                found[finding.check.id] = (weight, Recheck(finding.check.id, str(finding.value), why))
    ranked = sorted(found.values(), key=lambda pair: (-pair[0], pair[1].check))
    return [recheck for _, recheck in ranked[:_MOST]]


def still_to_see(call: Call) -> tuple[Recheck, ...]:
    """What the technician is reminded of: ``worth_rechecking``, as long as the call is open."""
    return () if call.state.outcome is not None else tuple(worth_rechecking(call))


def _danger(call: Call, finding: Finding) -> tuple[float, str]:
    """An answer that a sign of danger is absent: whoever works there sees for themselves, where it is not unlikely."""
    trees, check = call.trees, finding.check
    if by_answer(trees, check.id, str(finding.value)):
        return 0.0, ""
    for danger in trees.dangers.values():
        signs = danger.signs.get(check.id, ())
        rows = [finding.table.answers.index(answer) for answer in signs if answer in finding.table.answers]
        chance = float(finding.table.likelihood[rows].sum(axis=0) @ chances(call.inference)) if rows else 0.0
        if chance >= 0.15:
            return 2 + chance, (
                f"The caller said '{finding.value}'. If that is wrong it is a danger ({danger.title.lower()}): "
                "look before anything else."
            )
    return 0.0, ""


def _slip(call: Call, finding: Finding) -> tuple[float, str]:
    """How likely the caller was wrong, given everything: P(slip | this answer, the rest)."""
    rest = _belief_without(call, finding)
    slip, flat = call.trees.costs.caller_slip, 1.0 / len(finding.table.answers)
    marginal = float(finding.likelihood @ rest)
    chance = slip * flat / marginal if marginal > 0 else 1.0
    if chance < _DOUBTFUL:
        return 0.0, ""
    return (
        chance,
        f"The caller said '{finding.value}', which does not fit the rest, and may be wrong.",
    )


def _lead(call: Call, finding: Finding) -> tuple[float, str]:
    """Whether the leading cause stands on this one answer."""
    causes = call.situation.causes
    now, rest = chances(call.inference), _belief_without(call, finding)
    lead, other = int(np.argmax(now)), int(np.argmax(rest))
    if lead == other or now[lead] < 2 * rest[lead]:
        return 0.0, ""
    return 0.3 + float(now[lead]) / 10, (
        f"Only the caller's '{finding.value}' puts “{cause_title(call.trees, causes[lead])}” before "
        f"“{cause_title(call.trees, causes[other])}”."
    )


def _belief_without(call: Call, finding: Finding) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    inference = call.inference
    items = tuple(item for item in inference.items if item is not finding)
    return believed(inference.situation, items, inference.pairs).causes()
