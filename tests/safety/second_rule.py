"""When a door may stand returned to service, written a second time: from the events alone, one question at a time.

Nothing of ``diagnose.calls.closing`` is used. Where the program keeps one account as it goes, this looks the events
through again for every question, and returns the faults it finds as sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnose.calls import events as ev
from diagnose.calls.inference import from_si
from diagnose.knowledge.amounts import read_band
from diagnose.knowledge.fitting import tree_facts
from diagnose.knowledge.model import Trees
from diagnose.reasoning.compute import compute

Facts = dict[str, str | tuple[str, ...]]


def wrong_return(trees: Trees, events: Sequence[ev.AnyEvent]) -> list[str]:
    """Why a call that ends with ``Closed(returned to service)`` should not have; empty where it rightly did."""
    kept, begun = that_count(events), taken_back_without_a_word(events)
    while isinstance(kept[-1], ev.Noted):
        kept.pop()
    last = kept[-1]
    if not (isinstance(last, ev.Closed) and last.outcome == "returned to service"):
        return []
    before = kept[:-1]
    wrong = [
        f"not proved: {proof}"
        for proof in needed(trees, before, begun)
        if not proof_stands(trees, before, proof, begun)
    ]
    repairs = [event for event in before if isinstance(event, (ev.Tried, ev.RepairDone))]
    if not repairs and not last.reason.strip():
        wrong.append("nothing was done and nobody says why")
    wrong += [
        f"done by nobody who may: {event.remedy}"
        for number, event in enumerate(before)
        if isinstance(event, (ev.Tried, ev.RepairDone))
        and trees.remedies[event.remedy].who not in able(trees, people_of(before[:number]))
    ]
    for symptom in [*symptoms_of(before), *unanswered(before)]:
        if outcome_of(before, symptom) != "gone":
            wrong.append(f"not gone: {symptom}")
    if not symptoms_of(before) and any(symptoms_of(before[: n + 1]) for n in range(len(before))):
        wrong.append("the complaints were taken away")
    if repairs and isinstance(repairs[-1], ev.RepairDone):
        after = before[before.index(repairs[-1]) :]
        if not any(isinstance(event, ev.Judged) for event in after):
            wrong.append("the last repair was not tried")
    here = state_at(trees, before)
    if trees.energy[here].powered == "no" or trees.energy[here].cover == "open":
        wrong.append(f"left in the state {here}")
    return wrong


def that_count(events: Sequence[ev.AnyEvent]) -> list[ev.AnyEvent]:
    """The events that were not undone; an undoing can be undone too."""
    gone: set[int] = set()
    kept = []
    for event in reversed(events):
        if event.sequence in gone:
            continue
        if isinstance(event, ev.Undone):
            gone.add(event.undoes)
        else:
            kept.insert(0, event)
    return kept


def taken_back_without_a_word(events: Sequence[ev.AnyEvent]) -> list[ev.Tried | ev.RepairDone]:
    """Repairs that were undone and nobody said why: the work was begun all the same."""
    counting = {event.sequence for event in that_count(events)}
    silent = {event.undoes for event in events if isinstance(event, ev.Undone) and not event.reason.strip()}
    return [
        event
        for event in events
        if isinstance(event, (ev.Tried, ev.RepairDone)) and event.sequence in silent and event.sequence not in counting
    ]


def needed(trees: Trees, events: Sequence[ev.AnyEvent], begun: Sequence[ev.Tried | ev.RepairDone] = ()) -> list[str]:
    """Every proof the door has to have passed."""
    said, off, dropped = facts_of(trees, events)
    now = tree_facts(trees, said)
    had = tree_facts(trees, {fact: (*_flat({fact: v}), *dropped.get(fact, ())) for fact, v in said.items()})
    named = {
        proof
        for event in [*events, *begun]
        if isinstance(event, (ev.Tried, ev.RepairDone))
        for proof in trees.remedies[event.remedy].proofs
    }
    found = []
    for proof in trees.proofs.values():
        asked = proof.required == "yes" or proof.id in named
        stands_in = any(value in off for value in _flat(proof.unless))
        has = all(_meets(had.get(fact), values, set()) for fact, values in proof.applies.items())
        has_now = all(_meets(now.get(fact), values, set()) for fact, values in proof.applies.items())
        known = bool(proof.unless) and all(fact in now for fact in proof.unless)
        spared = known and all(_meets(now[fact], values, set()) for fact, values in proof.unless.items())
        if (
            (has_now and stands_in)
            or (asked and has and not spared and not stands_in)
            or hazard_at(trees, events, proof.id)
            or failing(trees, events, proof.id)
        ):
            found.append(proof.id)
    return found


def proof_stands(
    trees: Trees, events: Sequence[ev.AnyEvent], proof: str, begun: Sequence[ev.Tried | ev.RepairDone] = ()
) -> bool:
    """Whether a proof passed after all that makes it stale, by somebody who may, in its own state."""
    for number in range(len(events) - 1, -1, -1):
        event = events[number]
        if isinstance(event, (ev.Tried, ev.RepairDone)):
            return False
        if isinstance(event, ev.Answered) and _calls_for(trees, events[: number + 1], event, proof):
            return False
        if isinstance(event, ev.Proved) and event.proof in trees.proofs[proof].follows:
            return False
        if isinstance(event, ev.Proved) and event.proof == proof:
            since = any(work.sequence > event.sequence for work in begun)
            return event.passed and not since and may_pass(trees, events[:number], proof)
    return False


def may_pass(trees: Trees, before: Sequence[ev.AnyEvent], proof: str) -> bool:
    entry = trees.proofs[proof]
    if entry.who not in able(trees, people_of(before)) or entry.energy not in ("any", state_at(trees, before)):
        return False
    now = tree_facts(trees, facts_of(trees, before)[0])
    there = all(_meets(now.get(fact), values, set()) for fact, values in entry.applies.items())
    if not there and not hazard_at(trees, before, proof):
        return False
    if failing(trees, before, proof):
        failed = max(n for n, e in enumerate(before) if isinstance(e, ev.Proved) and e.proof == proof and not e.passed)
        if not any(isinstance(event, (ev.Tried, ev.RepairDone)) for event in before[failed:]):
            return False
    seen = hazard_at(trees, before, proof)
    if seen and entry.after:
        return any(
            isinstance(event, (ev.Tried, ev.RepairDone)) and event.remedy in entry.after and event.sequence > seen
            for event in before
        )
    return True


def failing(trees: Trees, events: Sequence[ev.AnyEvent], proof: str) -> bool:
    """Whether a proof failed and has not truly passed since."""
    bad = False
    for number, event in enumerate(events):
        if isinstance(event, ev.Proved) and event.proof == proof:
            if not event.passed:
                bad = True
            elif bad:
                mended = [e for e in events[:number] if isinstance(e, (ev.Tried, ev.RepairDone))]
                runs = [e for e in events[:number] if isinstance(e, ev.Proved) and e.proof == proof]
                last_bad = max(e.sequence for e in runs if not e.passed)
                entry = trees.proofs[proof]
                right = entry.who in able(trees, people_of(events[:number]))
                here = entry.energy in ("any", state_at(trees, events[:number]))
                seen = hazard_at(trees, events[:number], proof)
                after = not (seen and entry.after) or any(e.remedy in entry.after and e.sequence > seen for e in mended)
                bad = not (right and here and after and any(e.sequence > last_bad for e in mended))
    return bad


def hazard_at(trees: Trees, events: Sequence[ev.AnyEvent], proof: str) -> int:
    """The number of the latest event in which a hazard was seen that calls for a proof, and was not put right; or 0."""
    checks = trees.proofs[proof].seen
    answered = {event.check for event in events if isinstance(event, ev.Answered)} if checks else set()
    return max(
        (_seen_at(trees, events, proof, each) for each in checks if _looked_at(trees, each) & answered), default=0
    )


def _seen_at(trees: Trees, events: Sequence[ev.AnyEvent], proof: str, check: str) -> int:
    """When a check last showed the hazard a proof is for, and nobody took that back; or 0."""
    looked_at = _looked_at(trees, check)
    latest, told = 0, set()
    for number, event in enumerate(events):
        if isinstance(event, ev.Withdrawn) and event.check in looked_at:
            latest = 0
        elif isinstance(event, ev.Answered) and event.check in looked_at:
            if event.heard == "told":
                told.add(event.sequence)
            elif (event.mode == "correction" and event.reason.strip()) or latest in told:
                latest = 0
            if _shown_by(trees, events[: number + 1], proof, check):
                latest = event.sequence
    return latest


def _looked_at(trees: Trees, check: str) -> set[str]:
    """What is looked at or read for a check: itself, or what it is worked out from."""
    entry = trees.checks[check]
    return {check} if entry.kind != "computed" else {*entry.inputs.values(), entry.measured} & set(trees.checks)


def _calls_for(trees: Trees, events: Sequence[ev.AnyEvent], event: ev.Answered, proof: str) -> bool:
    """Whether the last of these events showed a hazard that a proof is for."""
    return any(
        event.check in _looked_at(trees, check) and _shown_by(trees, events, proof, check)
        for check in trees.proofs[proof].seen
    )


def _shown_by(trees: Trees, events: Sequence[ev.AnyEvent], proof: str, check: str) -> bool:
    """Whether a check shows the hazard as last answered."""
    entry, answers = trees.checks[check], trees.proofs[proof].seen[check]
    if entry.kind != "computed":
        value = _as_read(trees, events[-1])
    else:
        known: dict[str, Any] = {}
        for event in events:
            if isinstance(event, ev.Withdrawn):
                known.pop(event.check, None)
            elif isinstance(event, ev.Answered) and event.check in trees.checks:
                known[event.check] = _as_read(trees, event)
        facts = tree_facts(trees, facts_of(trees, events)[0])
        worked = compute(trees, entry, known, {}, facts)
        value = worked.value if worked else ()
    if isinstance(value, str):
        return value in answers
    bands = [read_band(written, entry.unit) for written in answers]
    return isinstance(value, float) and any(band[0] <= value <= band[1] for band in bands if band)


def _as_read(trees: Trees, event: ev.AnyEvent) -> Any:
    """An answer as it was given: words, a reading in the unit of its check, or a series of readings."""
    assert isinstance(event, ev.Answered)
    if isinstance(event.value, str):
        return event.value
    numbers = tuple(from_si(each, trees.checks[event.check].unit) for each in event.value)
    return numbers[0] if len(numbers) == 1 else numbers


def facts_of(trees: Trees, events: Sequence[ev.AnyEvent]) -> tuple[Facts, set[str], dict[str, set[str]]]:
    """What the door has now, what was said to be off it, and what was dropped and still counts."""
    now: Facts = {}
    last: Facts = {}
    off: set[str] = set()
    dropped: dict[str, set[str]] = {}
    for number, event in enumerate(events):
        if isinstance(event, ev.Opened):
            now, last = dict(event.facts), dict(event.facts)
        if not isinstance(event, ev.FactStated):
            continue
        if event.value == "":
            now.pop(event.fact, None)
            continue
        old = last.get(event.fact)
        now[event.fact] = last[event.fact] = event.value
        has = _flat({event.fact: event.value})
        off -= has
        dropped[event.fact] = dropped.get(event.fact, set()) - has
        lost = _flat({event.fact: old}) - has if old is not None else set()
        slip = event.became == "never there" and event.reason.strip()
        if not touched(events[:number]) or slip or not lost:
            continue
        own = [each for fact in trees.facts.values() for each in (fact.applies, *fact.goes_with.values())]
        for condition in (*(proof.applies for proof in trees.proofs.values()), *own):
            hang = lost & set(condition.get(event.fact, ()))
            dropped[event.fact] |= hang
            if event.became == "taken off":
                off |= hang
    # A guard that is off has other proofs in its stead.
    guards = {value for proof in trees.proofs.values() for value in _flat(proof.unless)}
    return now, off, {fact: values - (off & guards) for fact, values in dropped.items()}


def touched(events: Sequence[ev.AnyEvent]) -> bool:
    """Whether somebody has been at the door yet."""
    for event in events:
        if isinstance(event, ev.Answered) and event.heard == "seen":
            return True
        if isinstance(event, (ev.Tried, ev.RepairDone, ev.Proved, ev.EnergyEntered)):
            return True
    return False


def symptoms_of(events: Sequence[ev.AnyEvent]) -> tuple[str, ...]:
    found: tuple[str, ...] = ()
    for event in events:
        if isinstance(event, (ev.Opened, ev.SymptomsStated)):
            found = event.symptoms
    return found


def unanswered(events: Sequence[ev.AnyEvent]) -> set[str]:
    """Complaints that were taken away with somebody at the door, and nobody said why."""
    found: set[str] = set()
    for number, event in enumerate(events):
        if isinstance(event, ev.SymptomsStated):
            if touched(events[:number]) and not event.reason.strip():
                found |= set(symptoms_of(events[:number]))
            found -= set(event.symptoms)
    return found


def outcome_of(events: Sequence[ev.AnyEvent], symptom: str) -> str:
    """What a complaint was last said to do."""
    found = ""
    for number, event in enumerate(events):
        if isinstance(event, ev.Tried) and symptom in symptoms_of(events[:number]):
            found = "gone" if event.worked else "still there"
        elif isinstance(event, ev.Judged):
            found = event.outcomes.get(symptom, found)
    return found


def people_of(events: Sequence[ev.AnyEvent]) -> tuple[str, ...]:
    here: tuple[str, ...] = ()
    for event in events:
        if isinstance(event, (ev.Opened, ev.PeopleStated)):
            here = event.people
    return here


def able(trees: Trees, people: Sequence[str]) -> set[str]:
    """Those whose steps these people may do."""
    found = set(people)
    while True:
        more = {other for person in found if person in trees.people for other in trees.people[person].includes}
        if more <= found:
            return found
        found |= more


def state_at(trees: Trees, events: Sequence[ev.AnyEvent]) -> str:
    # "any" is no state a door is left in: it stands as it stood before.
    here = [event.energy for event in events if isinstance(event, ev.EnergyEntered) and event.energy != "any"]
    return here[-1] if here else next(name for name in trees.energy if name != "any")


def _flat(facts: dict[str, object]) -> set[str]:
    return {each for value in facts.values() for each in ((value,) if isinstance(value, str) else value or ())}  # type: ignore[union-attr]


def _meets(known: object, wanted: Sequence[str], besides: set[str]) -> bool:
    """Whether a fact meets a condition; what is not known may."""
    if known is None:
        return True
    values = {known} if isinstance(known, str) else set(known)  # type: ignore[arg-type]
    return bool((values | besides) & set(wanted))
