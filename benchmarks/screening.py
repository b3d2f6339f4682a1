"""How well the phone side decides: simulated callers who are vague, wrong, and hang up. Run by hand.

    python -m benchmarks.screening [calls] [seed]

Each call hides a door with one fault, drawn as often as it occurs. The caller complains, is asked about danger, answers
what the program asks until it stops or they hang up, and the sheet is drawn up. What the visit then takes is drawn from
the hidden fault: the remedy that ends it, its parts, who may do it, and what it is done from.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field

import msgspec
import numpy as np

from benchmarks.simulated_caller import SimulatedCaller
from diagnose import Call, load_trees
from diagnose.calls.call import CallError
from diagnose.knowledge.model import COULD_NOT_TELL, Trees, Van
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.practice.simulated import Choice, Draw, SimulatedCall, draw_door, planned
from diagnose.screening.danger import dangers_now, note_dangers, to_ask
from diagnose.screening.handover import hand_over
from diagnose.screening.interview import next_question, take
from diagnose.screening.needs import SECOND_PERSON, Needs, first_van, usual_remedies
from diagnose.screening.sheet import Sheet, make_sheet

VISITS = 80
COMMONEST = 10


@dataclass
class Tally:
    """What came of all calls."""

    questions: list[int] = field(default_factory=list)
    dangers_given: int = 0
    dangers_seen: int = 0
    needs_parts: list[bool] = field(default_factory=list)
    on_van: list[bool] = field(default_factory=list)
    on_fixed: list[bool] = field(default_factory=list)
    kinds: list[int] = field(default_factory=list)
    crew: list[bool] = field(default_factory=list)
    reach: list[bool] = field(default_factory=list)
    crew_for_nothing: list[bool] = field(default_factory=list)
    reach_for_nothing: list[bool] = field(default_factory=list)
    minutes: list[tuple[float, float, float]] = field(default_factory=list)
    asked_again: int = 0
    asked_again_unprompted: int = 0
    seconds: list[float] = field(default_factory=list)
    hung_up: int = 0


def main(calls: int = 300, seed: int = 1) -> Tally:
    trees = load_trees()
    van = first_van(trees)
    fixed = commonest_parts(trees, van)
    tally = Tally()
    random = np.random.default_rng(seed)
    often = np.array([sum(trees.causes[c].base * p for c, p in s.causes.items()) for s in trees.symptoms.values()])
    symptoms = random.choice(list(trees.symptoms), calls, p=often / often.sum())
    for number, symptom in enumerate(symptoms):
        draw = draw_door(trees, random, str(symptom))
        one_call(trees, van, fixed, draw, seed * 100_000 + number, tally, visit=number < VISITS)
    report(tally, fixed, van)
    return tally


def one_call(
    trees: Trees, van: Van, fixed: Mapping[str, int], draw: Draw, seed: int, tally: Tally, visit: bool
) -> None:
    """A phone call, its sheet, and what the visit would have taken."""
    door = HiddenDoor(trees, draw.facts, set(draw.faults), seed)
    caller = SimulatedCaller(trees, door, np.random.default_rng([seed, 7]))
    call = Call(trees)
    for danger in to_ask(trees, {}):
        call.danger(danger.id, "yes" if caller.danger(danger) else "no")
    call.state_symptoms([caller.complaint(draw.symptom)])
    words = caller.own_words()
    if words:
        call.note(words)
    note_dangers(call)
    questions = 0
    started = time.perf_counter()
    while (question := next_question(call, van)) is not None:
        answer = caller.answer(question)
        if caller.gone:
            break
        questions += 1
        try:
            take(call, question, answer)
        except CallError:
            # A slip that does not go with what was said before is refused, and the caller knows no better.
            take(call, question, COULD_NOT_TELL)
    sheet = make_sheet(call, van)
    tally.seconds.append((time.perf_counter() - started) / (questions + 1))
    tally.questions.append(questions)
    tally.hung_up += caller.gone
    tally.dangers_given += len(caller.said)
    tally.dangers_seen += len(caller.said & {raised.danger.id for raised in dangers_now(trees, call.events)})
    judge(trees, van, fixed, draw, door, sheet, np.random.default_rng([seed, 8]), tally)
    if visit:
        at_the_door(trees, draw, door, call, sheet, seed, tally)


def judge(
    trees: Trees,
    van: Van,
    fixed: Mapping[str, int],
    draw: Draw,
    door: HiddenDoor,
    sheet: Sheet,
    random: np.random.Generator,
    tally: Tally,
) -> None:
    """The sheet against what the hidden fault takes."""
    cause = draw.faults[0]
    shares = usual_remedies(trees, cause, draw.facts)
    remedy = str(random.choice(list(shares), p=list(shares.values())))
    needs = Needs(trees, (cause, "unlisted"), draw.facts, van)
    row = needs.remedies.index(remedy)
    needs.uses[0] = np.eye(len(needs.remedies))[row]
    people = {need.id for need in needs.people if need.chance[0] > 0.5}
    two = needs.second_person[0].chance[0] > 0.5
    places = {need.id for need in needs.places if need.chance[0] > 0.5}
    sent = {each.id for each in (*sheet.crew, *sheet.at_site)}
    may_do = sent | {other for person in sent & set(trees.people) for other in trees.people[person].includes}
    brought = {each.id for each in sheet.reach}
    tally.crew.append(people <= may_do and (not two or SECOND_PERSON in sent))
    tally.reach.append(places <= brought)
    extra = {p for p in sent if p in trees.people and trees.people[p].call_out > 0 and p not in van.ask} - people
    # Somebody sent because of a danger is not sent for nothing.
    extra -= {person for raised in sheet.dangers for person in raised.danger.who}
    tally.crew_for_nothing.append(bool(extra) or (SECOND_PERSON in sent and not two))
    tally.reach_for_nothing.append(bool(brought & set(van.beyond.values()) - places))
    parts = trees.remedies[remedy].parts
    loaded = {load.part: load.count for load in sheet.load.loads}
    tally.needs_parts.append(bool(parts))
    tally.on_van.append(all(loaded.get(part, 0) >= count for part, count in parts.items()))
    tally.on_fixed.append(all(fixed.get(part, 0) >= count for part, count in parts.items()))
    tally.kinds.append(len(loaded))
    assert sheet.load.weight <= van.weight + 1e-6 and sheet.load.volume <= van.volume + 1e-6


def at_the_door(trees: Trees, draw: Draw, door: HiddenDoor, call: Call, sheet: Sheet, seed: int, tally: Tally) -> None:
    """The technician goes on with the same events: minutes against those on the sheet, questions asked again."""
    firm = {c for c, a in call.state.answers.items() if a.heard == "told" and a.value != COULD_NOT_TELL}
    hand_over(call, sheet)
    alone = _each_alone(trees)
    visit = SimulatedCall(alone, draw, seed)
    visit.door = door
    visit.call = Call(alone, history=call.events)

    def watched(now: Call, chance: np.random.Generator) -> Choice:
        """The program's own policy; a firm answer is asked again only where the reason is said."""
        choice = planned(now, chance)
        answer = now.state.answers.get(choice.id) if choice.kind == "check" else None
        if answer is not None and choice.id in firm and answer.heard == "told":
            tally.asked_again += 1
            tally.asked_again_unprompted += choice.id not in now.surprise().again
        return choice

    outcome = visit.run(watched)
    tally.minutes.append((outcome.clock, sheet.minutes.median, sheet.minutes.most))


def _each_alone(trees: Trees) -> Trees:
    """The same trees with minutes of the clock: the work of two people is done in the time of one."""
    replace = msgspec.structs.replace
    return replace(
        trees,
        digest=f"{trees.digest}-clock",
        checks={k: replace(v, crew=1) for k, v in trees.checks.items()},
        remedies={k: replace(v, crew=1) for k, v in trees.remedies.items()},
        proofs={k: replace(v, crew=1) for k, v in trees.proofs.items()},
    )


def commonest_parts(trees: Trees, van: Van) -> dict[str, int]:
    """The ten parts used most often over all calls, as many of each as a repair takes, that fit the same van."""
    used: dict[str, float] = {}
    counts: dict[str, int] = {}
    for cause in trees.causes.values():
        for remedy, share in usual_remedies(trees, cause.id, {}).items():
            for part, count in trees.remedies[remedy].parts.items():
                used[part] = used.get(part, 0.0) + cause.base * share
                counts[part] = max(counts.get(part, 0), count)
    chosen: dict[str, int] = {}
    weight = volume = 0.0
    for part in sorted(used, key=lambda p: -used[p]):
        entry, count = trees.parts[part], counts[part]
        if weight + entry.weight * count <= van.weight and volume + entry.volume * count <= van.volume:
            chosen[part] = count
            weight, volume = weight + entry.weight * count, volume + entry.volume * count
        if len(chosen) == COMMONEST:
            break
    return chosen


def report(tally: Tally, fixed: Mapping[str, int], van: Van) -> None:
    calls = len(tally.questions)
    need = [i for i in range(calls) if tally.needs_parts[i]]
    missed = sum(not tally.on_van[i] for i in range(calls))
    missed_fixed = sum(not tally.on_fixed[i] for i in range(calls))
    both = [a and b for a, b in zip(tally.crew, tally.reach, strict=True)]
    print(f"{calls} calls, {tally.hung_up} callers hung up; van of {van.weight:g} kg and {van.volume:g} l")
    line("danger recognised when its sign was given", tally.dangers_seen / max(tally.dangers_given, 1), 1.0)
    print(f"  ({tally.dangers_given} signs given)")
    line("parts for the true cause on the van", sum(tally.on_van) / calls, 0.85)
    print(f"  (of the {len(need)} that take any: {sum(tally.on_van[i] for i in need) / max(len(need), 1):.1%};")
    print(f"  {statistics.median(tally.kinds):g} kinds of part a call, at most {max(tally.kinds)})")
    print(f"questions, median: {statistics.median(tally.questions):g} (bar: at most 8), most {max(tally.questions)}")
    line("second trips saved over the ten commonest parts", 1 - missed / max(missed_fixed, 1), 0.40)
    print(f"  ({missed} against {missed_fixed}; the ten: {', '.join(fixed)})")
    line("crew and lift right", sum(both) / calls, 0.95)
    print(f"  (crew {sum(tally.crew) / calls:.1%}, lift {sum(tally.reach) / calls:.1%};")
    print(
        f"  sent for nothing: people {sum(tally.crew_for_nothing) / calls:.1%}, "
        f"lift {sum(tally.reach_for_nothing) / calls:.1%})"
    )
    within = [(actual <= median, actual <= most) for actual, median, most in tally.minutes]
    print(
        f"minutes on site, {len(within)} visits: {sum(a for a, _ in within) / len(within):.0%} within the median, "
        f"{sum(b for _, b in within) / len(within):.0%} within the 8 in 10"
    )
    print(
        f"firm answers asked again at the door without a reason: {tally.asked_again_unprompted} (bar: 0); "
        f"with one, because they fit ill with the rest: {tally.asked_again}"
    )
    print(f"seconds a question: {statistics.median(tally.seconds):.3f}")


def line(what: str, share: float, bar: float) -> None:
    print(f"{what}: {share:.1%} (bar: {bar:.0%}) {'ok' if share >= bar else 'MISSED'}")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:3]))
