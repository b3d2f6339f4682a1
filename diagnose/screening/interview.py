"""Which question to put to a caller next, and when to stop: what an answer is worth is what it changes of what is sent.

The same belief as at the door, over the checks that a layman can answer from the floor. Nobody is asked to do anything:
a check is asked for what was seen already, so what would have to be done before it at the door does not matter. The
value of a question is the expected cost of the best dispatch now, less the expected cost of the best one once it is
answered (Howard, *Information value theory*, 1966), a caller's slips counted in.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from diagnose.calls.call import Call
from diagnose.calls.inference import Inference
from diagnose.knowledge.fitting import possible
from diagnose.knowledge.model import COULD_NOT_TELL, Check, Fact, Trees, Van, applies, holds
from diagnose.reasoning.plan import information
from diagnose.reasoning.situation import Array, Situation, Table
from diagnose.reasoning.suspects import suspects
from diagnose.reasoning.walk import openers
from diagnose.screening.danger import Raised, dangers_now, note_dangers
from diagnose.screening.hearsay import chances, doubts, phone_inference, told_facts
from diagnose.screening.needs import Need, Needs

# What it costs to put a question: some 35 seconds of two people at first, and twice that after so many, for a caller's
# patience runs out.
QUESTION_COSTS, PATIENCE = 0.6, 8
# Of a fact with many answers at once, how many are looked at when its worth is reckoned: two to the power of so many.
_MOST_AT_ONCE = 4
# The chance from which a door may well have what nobody has spoken of.
_MAY_WELL = 0.25
# How many questions are looked at in pairs, when none is worth asking by itself.
_MOST_IN_PAIRS = 6
URGENCIES = ("emergency", "today", "next working day", "next free visit")


@dataclass(frozen=True)
class Question:
    """A question for the caller. ``id`` names a fact or a check, ``answers`` are its own words.

    ``worth`` is in minutes' worth, what it costs to ask taken off; ``may_change`` are the needs it may turn. ``repeat``
    is a fact's value as it was told, to be said back to the caller: the answers are then ``yes`` and ``no``.
    """

    kind: Literal["fact", "check"]
    id: str
    answers: tuple[str, ...]
    many: bool = False
    repeat: str = ""
    worth: float = 0.0
    may_change: tuple[Need, ...] = ()


def next_question(call: Call, van: Van) -> Question | None:
    """The question that is worth most now; ``None`` where no answer would change enough of what is sent."""
    trees = call.trees
    if not call.symptoms:
        return None
    urgent = _about_urgency(call)
    if urgent is not None:
        return urgent
    if call.refusal():
        return None
    inference = phone_inference(call)
    situation, belief = inference.situation, chances(inference)
    needs = Needs(trees, situation.causes, situation.facts, van, doubts(call))
    facts = [_fact_question(call, fact, belief, needs) for fact in _facts_left(call)]
    facts += [_repeat_question(call, fact, belief, needs) for fact in _told_once(call)]
    checks = [(check, told(trees, situation.tables[check.id])) for check in caller_checks(call, inference)]
    questions = [*facts, *(_check_question(check, table, belief, needs) for check, table in checks)]
    cost = question_costs(call)
    best = max(questions, key=lambda question: question.worth, default=None)
    if best is not None and best.worth > cost:
        return replace(best, worth=best.worth - cost)
    return _first_of_two(checks, belief, needs, cost)


def take(call: Call, question: Question, answer: str | tuple[str, ...]) -> tuple[Raised, ...]:
    """Put down what the caller said to a question, ``could not tell`` included; gives back the dangers it raised."""
    if question.kind == "check":
        assert isinstance(answer, str)
        call.answer(question.id, answer, heard="told")
    elif question.repeat:
        # Said again it is surer; taken back it is open, and is asked once more.
        call.state_fact(question.id, question.repeat if answer != "no" else "")
    else:
        # An empty value keeps that it was asked, and leaves the fact open.
        call.state_fact(question.id, "" if answer == COULD_NOT_TELL else answer)
    return note_dangers(call)


def caller_checks(call: Call, inference: Inference | None = None) -> list[Check]:
    """The checks not answered yet that bear on the suspects and that a caller can answer, in the trees' order."""
    inference = inference or phone_inference(call)
    trees, situation, known = call.trees, inference.situation, inference.known
    gates = openers(trees)
    first = {check for symptom in situation.symptoms for check in trees.symptoms[symptom].ask_first}
    closed = {
        check
        for answered, value in known.items()
        if answered in trees.checks and isinstance(value, str)
        for check in trees.checks[answered].closes.get(value, ())
    }
    groups = {trees.checks[check].group for check in known if check in trees.checks} - {""}
    found = []
    for identity in situation.tables:
        check = trees.checks[identity]
        if identity in known or identity in closed or check.group in groups:
            continue
        if not may_be_asked(trees, check) or not applies(check.applies, situation.facts):
            continue
        if check.presumes and not set(check.presumes).intersection(situation.symptoms):
            continue
        if not _on_this_door(call, check, situation):
            continue
        # An answer that only somebody at the door could give keeps nothing from being asked.
        waits_for = [gate for gate in gates.get(identity, ()) if may_be_asked(trees, trees.checks[gate])]
        if not waits_for or identity in first or any(_opens(trees, gate, known, identity) for gate in waits_for):
            found.append(check)
    return found


def _on_this_door(call: Call, check: Check, situation: Situation) -> bool:
    """Whether the door may well have what is asked about: nobody is asked about a strip or a box that is hardly there.

    What was said of the door and what the complaint is about decide; where they leave it open, the chance that a cause
    of the complaint is one of a door that has it.
    """
    trees = call.trees
    complaints = [trees.symptoms[symptom].applies for symptom in situation.symptoms]
    for fact, allowed in check.applies.items():
        if fact in situation.facts:
            continue
        said = [set(applies[fact]) for applies in complaints if fact in applies]
        usual = said[0] if said else set(trees.facts[fact].answers if trees.facts[fact].many == "no" else ())
        shares = [
            len(on.intersection(allowed)) / len(on) if on else 0.0
            for on in (set(trees.causes[cause].applies.get(fact, usual)) for cause in situation.causes[:-1])
        ]
        prior = situation.prior[:-1]
        if float(prior @ np.array(shares)) < _MAY_WELL * float(prior.sum()):
            return False
    return True


def may_be_asked(trees: Trees, check: Check) -> bool:
    """Whether a layman can answer a check from the floor, hands off, with the covers on."""
    if check.caller is None or check.kind == "computed" or trees.people[check.who].includes:
        return False
    state = trees.energy[check.energy]
    return trees.access[check.access].minutes == 0 and (check.energy == "any" or state.cover == "on")


def told(trees: Trees, table: Table) -> Array:
    """P(answer | cause) as a caller gives it, [answers, causes]: misheard and misjudged more often than seen."""
    slip, flat = trees.costs.caller_slip, 1.0 / len(table.answers)
    exact = (table.likelihood - table.slip * flat) / (1 - table.slip)
    heard: Array = np.maximum((1 - slip) * exact + slip * flat, 0.0)
    heard[:, -1] = table.likelihood[:, -1]
    heard /= heard.sum(axis=0)
    return heard


def asked_facts(call: Call) -> set[str]:
    """Facts that are known or follow from others, that the caller could not tell, or that were asked twice."""
    told = told_facts(call)
    return {fact for fact, values in told.items() if not values[-1] and len(values) != 2} | set(call.facts)


def _told_once(call: Call) -> list[Fact]:
    """Facts that rest on one word of the caller."""
    return [
        call.trees.facts[fact]
        for fact, values in told_facts(call).items()
        if len(values) == 1 and isinstance(call.state.facts.get(fact), str) and fact in call.trees.facts
    ]


def question_costs(call: Call) -> float:
    """What the next question costs, in minutes' worth."""
    told = [answer for answer in call.state.answers.values() if answer.heard == "told"]
    return QUESTION_COSTS * (1 + (len(told) + len(told_facts(call))) / PATIENCE)


def _about_urgency(call: Call) -> Question | None:
    """A fact that may bring the visit forward, where none is known that makes it urgent already."""
    trees, facts = call.trees, call.facts
    known = [u for u in trees.urgencies.values() if u.applies and holds(u.applies, facts)]
    reasons = [*(raised.danger.urgency for raised in dangers_now(trees, call.events)), *(u.urgency for u in known)]
    now = min((URGENCIES.index(reason) for reason in reasons), default=len(URGENCIES))
    asked = asked_facts(call)
    for urgency in trees.urgencies.values():
        for fact in urgency.applies:
            if URGENCIES.index(urgency.urgency) < now and fact not in asked and trees.facts[fact].caller is not None:
                entry = trees.facts[fact]
                return Question("fact", fact, entry.answers, entry.many == "yes", worth=np.inf)
    return None


# --- what a question is worth, before its cost ------------------------------------------------------------------------


def _check_question(check: Check, table: Array, belief: Array, needs: Needs) -> Question:
    rows = belief * table
    worth = float(needs.loss(belief[None])[0] - needs.loss(rows).sum())
    return Question("check", check.id, check.answers, worth=worth, may_change=_turned(rows, belief, needs))


def _turned(rows: Array, belief: Array, needs: Needs) -> tuple[Need, ...]:
    """The needs that some answer would decide otherwise than they are decided now."""
    likely = rows[rows.sum(axis=1) > 0.01]
    other = (needs.sent(likely) != needs.sent(belief[None])).any(axis=0)
    return tuple(need for need, differs in zip(needs.all, other, strict=True) if differs)


def _first_of_two(checks: Sequence[tuple[Check, Array]], belief: Array, needs: Needs, cost: float) -> Question | None:
    """A question that is worth asking together with another, though neither is by itself."""
    telling = sorted(checks, key=lambda pair: (-information(belief, pair[1]), pair[0].id))[:_MOST_IN_PAIRS]
    now = float(needs.loss(belief[None])[0])
    best: Question | None = None
    for (one, first), (_, second) in itertools.combinations(telling, 2):
        rows = (belief * first)[:, None, :] * second[None, :, :]
        flat = rows.reshape(-1, len(belief))
        worth = now - float(needs.loss(flat).sum()) - 2 * cost
        if worth > 0 and (best is None or worth > best.worth):
            best = Question("check", one.id, one.answers, worth=worth, may_change=_turned(flat, belief, needs))
    return best


def _facts_left(call: Call) -> list[Fact]:
    asked = asked_facts(call)
    return [fact for fact in call.trees.facts.values() if fact.caller is not None and fact.id not in asked]


def _fact_question(call: Call, fact: Fact, belief: Array, needs: Needs) -> Question:
    trees, facts = call.trees, needs.facts
    ways = [dict(facts) | {fact.id: value} for value in _values(call, fact)]
    causes = needs.causes[:-1]
    fits = np.array([[applies(trees.causes[cause].applies, way) for cause in causes] for way in ways], dtype=float)
    fits = np.column_stack([fits, np.ones(len(ways))])
    # Of the ways a door can be with a cause in it, each is as likely as the others.
    rows = belief * fits / np.maximum(fits.sum(axis=0), 1.0)
    after = 0.0
    turned: dict[tuple[str, str], Need] = {}
    for way, row in zip(ways, rows, strict=True):
        here = Needs(trees, needs.causes, way, needs.van, {**needs.doubts, fact.id: trees.costs.caller_slip}, needs)
        after += float(here.loss(row[None])[0])
        if row.sum() > 0.01:
            turned |= dict(_differing(needs, belief, here, row))
    worth = float(needs.loss(belief[None])[0]) - after
    return Question("fact", fact.id, fact.answers, fact.many == "yes", "", worth, tuple(turned.values()))


def _repeat_question(call: Call, fact: Fact, belief: Array, needs: Needs) -> Question:
    """Saying a fact back to the caller: worth it where much hangs on it, such as a lift."""
    value = str(call.state.facts[fact.id])
    doubt = needs.doubts[fact.id]
    # Right and said again, or wrong and said again; otherwise it is open.
    agree, insist = (1 - doubt) ** 2, doubt**2
    twice = {**needs.doubts, fact.id: insist / (agree + insist)}
    without = {known: value for known, value in needs.facts.items() if known != fact.id}
    sure = Needs(call.trees, needs.causes, needs.facts, needs.van, twice, needs)
    unknown = Needs(call.trees, needs.causes, without, needs.van, needs.doubts, needs)
    row = belief[None]
    after = (agree + insist) * sure.loss(row)[0] + (1 - agree - insist) * unknown.loss(row)[0]
    turned = {key: need for other in (sure, unknown) for key, need in _differing(needs, belief, other, belief)}
    worth = float(needs.loss(row)[0] - after)
    return Question("fact", fact.id, ("yes", "no"), False, value, worth, tuple(turned.values()))


def _differing(one: Needs, belief: Array, other: Needs, row: Array) -> Iterator[tuple[tuple[str, str], Need]]:
    now, then = (
        {(need.kind, need.id): need for need, sent in zip(needs.all, needs.sent(of[None])[0], strict=True) if sent}
        for needs, of in ((one, belief), (other, row))
    )
    for key in now.keys() ^ then.keys():
        yield key, {**now, **then}[key]


def _values(call: Call, fact: Fact) -> list[str | tuple[str, ...]]:
    """What the fact may turn out to be, as far as the complaint leaves it open."""
    trees = call.trees
    said = [trees.symptoms[s].applies[fact.id] for s in call.symptoms if fact.id in trees.symptoms[s].applies]
    answers = possible(fact, call.facts)
    if fact.many == "no":
        return [answer for answer in answers if all(answer in allowed for allowed in said)] or list(answers)
    causes = suspects(trees, call.facts, call.symptoms)
    bearing = [answer for answer in answers if any(_depends(trees, cause, fact.id, answer) for cause in causes)]
    implied = {allowed[0] for allowed in said if len(allowed) == 1}
    open_ones = [answer for answer in bearing if answer not in implied][:_MOST_AT_ONCE]
    values: list[str | tuple[str, ...]] = []
    for size in range(len(open_ones) + 1):
        for some in itertools.combinations(open_ones, size):
            values.append(tuple(answer for answer in fact.answers if answer in {*implied, *some}))
    return values


def _depends(trees: Trees, cause: str, fact: str, answer: str) -> bool:
    return cause in trees.causes and answer in trees.causes[cause].applies.get(fact, ())


def _opens(trees: Trees, gate: str, known: Mapping[str, object], identity: str) -> bool:
    answer = known.get(gate)
    if answer is None:
        return False
    return answer == COULD_NOT_TELL or identity in trees.checks[gate].opens.get(str(answer), ())
