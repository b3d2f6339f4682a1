"""The next step: the check or remedy with the lowest expected cost to a proven door, from what is known now.

Every reachable check and every remedy of a suspect is put on one scale (minutes' worth). The most promising few
make a small ``repair.Problem`` that is solved exactly; the first step of its optimum is the suggestion. What is
left out is left out by rank, never by time, so that the same input gives the same step on any machine.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from diagnose.knowledge.model import (
    ANY,
    UNLISTED,
    Facts,
    Held,
    Proof,
    Remedy,
    Task,
    Trees,
    applies,
    applies_to,
    chance_of,
    power_state,
)
from diagnose.reasoning.belief import Belief, shown_by_both
from diagnose.reasoning.moving import Whereabouts, enter, state_minutes
from diagnose.reasoning.repair import Action, Change, Choice, Plan, Problem, Question, Remedies
from diagnose.reasoning.situation import Array, Indices, Situation, times_log2
from diagnose.reasoning.suspects import idle
from diagnose.reasoning.walk import Known, Way, before, fits, keeping_back, reachable

# How many of each go into the exact problem, and how large it may grow: cells × remedy sets × states.
_MOST_QUESTIONS = 5
_MOST_ACTIONS = 6
_MOST_CELLS = 40_000
_MOST_PAIRS = 24
# Of so many checks the cost of repair after each answer is looked at; where there are more, of those that a bound of it
# ranks first, and those with the most information a minute.
_MOST_WEIGHED = 128
# Orders of repair that the bound is made of.
_BOUND_ORDERS = 12
# Ways it may go, above which they are gathered into steps of a thousandth for the middle of them.
_MOST_ENDS = 20_000
# Learning gets dearer as the telling checks are used up, but most calls end before they are. It serves to choose a
# step; the minutes that are promised hold the whole of it, which comes nearer to what simulated calls take.
_PER_BIT = 0.6
# Minutes. Plans closer than this are as good as each other: leaving checks out of a plan costs more than that.
_AS_GOOD = 0.25
# ... and a check that changes what is done next may cost so much more: one that changes nothing is a card read in vain.
_RATHER = 8.0
# Where a suspect is this likely, what changes nothing alone is not asked for what it might do together with others.
_SURE_ENOUGH = 0.70
# A remedy is a guess below this chance of ending the trouble; a guess is put before looking only where it costs no more
# than so many minutes' worth.
LIKELY, _CHEAP = 0.5, 20.0
# Answers rarer than this change no plan.
_SELDOM = 0.02
# Bits below which a check is not worth asking.
_TELLS_NOTHING = 1e-4
# Work is not a timetable: the spread about its written minutes, as a factor of one standard deviation (an estimate),
# and nine deviations that are equally likely.
PACE = 1.2
_DEVIATIONS: Array = np.array([-1.593, -0.967, -0.589, -0.282, 0.0, 0.282, 0.589, 0.967, 1.593])
SECOND_LOOK = ("the same", "something else")


@dataclass(frozen=True)
class Standing:
    """Where a call stands: all that planning looks at."""

    situation: Situation
    belief: Belief
    known: Mapping[str, Known]
    # Remedies not to be suggested again.
    tried: Collection[str]
    energy: str
    fetched: Collection[str]
    people: Collection[str]
    # Answers that may have been slips: P(a second look shows the same | cause) [causes], by check.
    doubtful: Mapping[str, Array] = field(default_factory=dict)


@dataclass(frozen=True)
class Candidate:
    """A check that can be done now, or looked at again: the way to it, its cost, and what it tells.

    ``likelihood`` is [answers, hypotheses], made when it is first asked for; ``information`` the bits it is expected to
    tell about the cause.
    """

    way: Way
    steps: tuple[Task, ...]
    cost: float
    minutes: float
    # What it costs to get into the state it is done in, from where one stands now.
    entry: float
    answers: tuple[str, ...]
    information: float
    _shown: Callable[[], Array] = field(repr=False, compare=False)

    @cached_property
    def likelihood(self) -> Array:
        return self._shown()

    @property
    def per_minute(self) -> float:
        return self.information / (self.cost + self.entry)


@dataclass(frozen=True, eq=False)
class Prospect:
    """How long it may take: ``minutes`` as written in the trees, one entry for each way it may go, and ``chances``."""

    minutes: Array
    chances: Array

    @property
    def mean(self) -> float:
        return float(self.minutes @ self.chances)

    def after(self, minutes: float) -> Prospect:
        """The same, with ``minutes`` that come in any case."""
        return Prospect(self.minutes + minutes, self.chances)

    def middle(self) -> tuple[float, float]:
        """The middle 80 %, the ``PACE`` of people counted in."""
        ends, each = self._gathered() if len(self.minutes) > _MOST_ENDS else (self.minutes, self.chances)
        minutes = np.outer(ends, PACE**_DEVIATIONS).ravel()
        chances = np.repeat(each / len(_DEVIATIONS), len(_DEVIATIONS))
        return _quantile(minutes, chances, 0.1), _quantile(minutes, chances, 0.9)

    def _gathered(self) -> tuple[Array, Array]:
        """Ways that take the same time to within a thousandth, together."""
        place = (np.log1p(np.maximum(self.minutes, 0.0)) // 1e-3).astype(np.intp)
        chances = np.bincount(place, self.chances).astype(float)
        kept = np.flatnonzero(chances)
        minutes: Array = np.bincount(place, self.chances * self.minutes)[kept] / chances[kept]
        return minutes, chances[kept]


@dataclass(frozen=True)
class Suggestion:
    """A step and what stands behind it. ``kind`` is ``check``, ``remedy`` or ``stop``; ``id`` is ``""`` to stop.

    ``prospect`` is of the minutes to a proven door, the door's own closing proofs not counted.
    """

    kind: str
    id: str
    way: tuple[str, ...]
    expected_cost: float
    prospect: Prospect
    alternatives: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Repair:
    """A remedy that can be tried now and the proof that follows: what both cost, and P(fault stays) [2, hypotheses].

    ``fixes`` is the chance that it ends the trouble; ``chances`` that it removes each suspect it can remove.
    """

    remedy: Remedy
    steps: tuple[Task, ...]
    cost: float
    minutes: float
    entry: float
    fixes: float
    chances: Mapping[int, float]
    hypotheses: Hypotheses = field(repr=False)

    @cached_property
    def leaves(self) -> Array:
        chances = np.zeros(self.hypotheses.singles)
        chances[list(self.chances)] = list(self.chances.values())
        return self.hypotheses.leaves(chances)

    def removes(self, hypothesis: int) -> bool:
        """Whether each fault of a hypothesis is more likely removed than not."""
        faults = (int(self.hypotheses.first[hypothesis]), int(self.hypotheses.second[hypothesis]))
        return all(fault < 0 or 1 - self.chances.get(fault, 0.0) < 0.5 for fault in faults)


class Planner:
    """Plans from one ``Standing``. Cheap to make; each part is computed when first asked for."""

    def __init__(self, standing: Standing) -> None:
        self.standing = standing
        self.trees: Trees = standing.situation.trees
        here = (standing.energy, frozenset(standing.fetched), frozenset(standing.people))
        self.scale = _whole_scale(Held(self.trees), *here)

    @cached_property
    def hypotheses(self) -> Hypotheses:
        return Hypotheses.of(self.standing.belief)

    @cached_property
    def candidates(self) -> tuple[Candidate, ...]:
        """Every check that can be reached and may tell something, the most telling for its cost first."""
        found = self._worth(self._ways()) or self._worth(self._ways(relaxed=True))
        # Rounded, so that checks that tell the same stand in the order of their names on any machine.
        return tuple(sorted(found, key=lambda c: (-round(c.per_minute, 12), c.way.goal)))

    def _ways(self, relaxed: bool = False) -> list[Way]:
        """The ways to the checks that can be reached, none of them by what cannot be done now."""
        standing = self.standing
        situation, belief = standing.situation, standing.belief
        out = idle(situation.unable, situation.complained_of, belief.causes(), belief.nothing)
        ways = reachable(situation, standing.known, standing.people, relaxed)
        return [way for way in ways if out.isdisjoint(way.steps)]

    def _worth(self, ways: Sequence[Way]) -> list[Candidate]:
        found = [self._first_look(way) for way in ways if self._bits[self._place[way.goal]] > _TELLS_NOTHING]
        found += [self._second_look(check, same) for check, same in self.standing.doubtful.items()]
        return [candidate for candidate in found if candidate.information > _TELLS_NOTHING]

    @cached_property
    def _place(self) -> dict[str, int]:
        return {name: place for place, name in enumerate(self.standing.situation.stack.names)}

    @cached_property
    def _pair_rows(self) -> Array:
        return self.hypotheses.pair_rows(self.standing.situation)

    @cached_property
    def _bits(self) -> Array:
        """The information of every check about the hypothesis, in one pass: I = Σ p·L·log₂(L / Σ p·L)."""
        stack, probability = self.standing.situation.stack, self.hypotheses.probability
        single, pair = probability[: self.hypotheses.singles], probability[self.hypotheses.singles :]
        marginal = stack.times(single) + self._pair_rows @ pair
        told = stack.own_bits(single) + times_log2(self._pair_rows) @ pair - times_log2(np.maximum(marginal, 0.0))
        bits: Array = np.maximum(stack.by_check(told), 0.0)
        return bits

    def _first_look(self, way: Way) -> Candidate:
        situation, place = self.standing.situation, self._place[way.goal]
        # Without a hold on the planner: it and its arrays go as soon as nobody needs them.
        table, first, rows = situation.tables[way.goal], int(situation.stack.first[place]), self._pair_rows

        def shown() -> Array:
            return np.concatenate([table.likelihood, rows[first : first + len(table.answers)]], axis=1)

        return self._candidate(way, table.answers, float(self._bits[place]), shown)

    def _second_look(self, check: str, same: Array) -> Candidate:
        """Looking again at what was answered: the same is seen, or something else."""
        same = self.hypotheses.either(same)
        shown = np.stack([same, 1 - same])
        bits = information(self.hypotheses.probability, shown)
        return self._candidate(Way(check, (check,)), SECOND_LOOK, bits, lambda: shown)

    def _candidate(self, way: Way, answers: tuple[str, ...], bits: float, shown: Callable[[], Array]) -> Candidate:
        done = self.scale.done(way.steps)
        return Candidate(way, done.steps, max(done.cost, 0.25), done.minutes, done.entry, answers, bits, shown)

    def most_telling(self, leaving: Collection[str] = ()) -> Suggestion | None:
        """The check with the most information about the cause for each minute of work; ``None`` if none is left.

        One of ``leaving`` only where there is no other.
        """
        if not self.candidates:
            return None
        best = next((c for c in self.candidates if c.way.goal not in leaving), self.candidates[0])
        return Suggestion("check", best.way.goal, best.way.steps, best.cost, _for_certain(best.minutes))

    @cached_property
    def remedies(self) -> tuple[Repair, ...]:
        """Every remedy that may remove a suspect, the one that fixes most for its cost first."""
        causes = self.standing.situation.causes
        chances: dict[str, dict[int, float]] = {}
        for index, cause in enumerate(causes[:-1]):
            for remedy, chance in self.trees.causes[cause].remedies.items():
                entry = self.trees.remedies[remedy]
                if self._is_left(entry) and fits(self.trees, entry, self.standing.known):
                    chances.setdefault(remedy, {})[index] = chance
        if not chances:
            return ()
        removal = self._removal(np.ones(len(chances)), list(chances.values()))
        fixes = removal.fixes(self.hypotheses.probability[None])[0]
        repairs = [
            self._repair(self.trees.remedies[remedy], removed, float(fixed))
            for (remedy, removed), fixed in zip(chances.items(), fixes, strict=True)
        ]
        return tuple(sorted(repairs, key=lambda r: (-round(r.fixes / (r.cost + r.entry), 12), r.remedy.id)))

    def _repair(self, remedy: Remedy, chances: Mapping[int, float], fixes: float) -> Repair:
        done = self.scale.repaired(remedy)
        first = self.scale.done(tuple(dict.fromkeys(step for way in self.before(remedy) for step in way.steps)))
        cost = max(done.cost + first.cost, 0.5)
        entry = first.entry if first.steps else done.entry
        return Repair(
            remedy, first.steps + done.steps, cost, done.minutes + first.minutes, entry, fixes, chances, self.hypotheses
        )

    def before(self, remedy: Remedy) -> list[Way]:
        """The ways to what has to be asked before a remedy is put."""
        standing = self.standing
        return before(standing.situation, remedy, standing.known, standing.people)

    def keeping_back(self) -> tuple[str, list[str]]:
        """The likeliest suspect, and the checks each of which alone keeps a repair of it from being put; none where
        one may be put, or it is not likely."""
        standing, present = self.standing, self.standing.belief.causes()[:-1]
        if self._surest < LIKELY:
            return UNLISTED, []
        cause = standing.situation.causes[int(np.argmax(present))]
        chances = self.trees.causes[cause].remedies
        repairs = [self.trees.remedies[name] for name in sorted(chances, key=lambda name: (-chances[name], name))]
        against = [keeping_back(self.trees, repair, standing.known) for repair in repairs if self._is_left(repair)]
        return cause, [checks[0] for checks in against if len(checks) == 1] if all(against) else []

    def _is_left(self, remedy: Remedy) -> bool:
        """Whether a remedy is of such a door, and was not tried in vain."""
        standing = self.standing
        return remedy.id not in standing.tried and applies(remedy.applies, standing.situation.facts)

    def _removal(self, costs: Array, removed: Sequence[Mapping[int, float]]) -> Remedies:
        """What remedies remove, fault by fault with its chance, as arrays."""
        entries = [(place, *entry) for place, chances in enumerate(removed) for entry in chances.items()]
        remedy, fault = (np.array([entry[i] for entry in entries], dtype=np.intp) for i in (0, 1))
        chance = np.array([entry[2] for entry in entries], dtype=float)
        return Remedies(costs, remedy, fault, chance, self.hypotheses.first, self.hypotheses.second)

    @cached_property
    def problem(self) -> Problem:
        """The few most promising checks and remedies, as a problem small enough to solve exactly."""
        repairs = self._short_actions()
        candidates = self._short_candidates(repairs)
        steps: list[Task] = [step for repair in repairs for step in repair.steps]
        steps += [step for candidate in candidates for step in candidate.steps]
        energies, places = [step.energy for step in steps], [step.access for step in steps]
        standing = self.standing
        scale = _Scale(self.trees, standing.energy, standing.fetched, standing.people, energies, places)
        per_bit, minutes_per_bit = self._per_bit(candidates)
        once_known, minutes_once_known = self._once_known
        return Problem(
            self.hypotheses.probability,
            tuple(Question(c.way.goal, c.cost, c.likelihood, scale.through(c.steps), c.minutes) for c in candidates),
            tuple(Action(r.remedy.id, r.cost, r.leaves, scale.through(r.steps), r.minutes) for r in repairs),
            self._hand_over,
            scale.states,
            scale.start,
            per_bit,
            once_known,
            minutes_per_bit,
            minutes_once_known,
            self.trees.costs.hand_over + minutes_once_known,
        )

    def _per_bit(self, short: Sequence[Candidate]) -> tuple[float, float]:
        """What it takes to learn one bit from the checks left out of the plan, the telling ones first: minutes' worth,
        and minutes."""
        named = {candidate.way.goal for candidate in short}
        unknown = entropy(self.hypotheses.probability)
        told = cost = minutes = 0.0
        for candidate in self.candidates:
            if candidate.way.goal in named:
                continue
            told += candidate.information
            cost += candidate.cost + candidate.entry
            minutes += candidate.minutes + candidate.entry
            if told >= unknown:
                break
        return (_PER_BIT * cost / told, minutes / told) if told > 0 else (np.inf, np.inf)

    @cached_property
    def _hand_over(self) -> Array:
        """What giving up costs, for each hypothesis: somebody else comes, and still has the repair to do."""
        return self.trees.costs.hand_over + self._once_known[0]

    @cached_property
    def _once_known(self) -> tuple[Array, Array]:
        """What it would still cost if one knew what is wrong, and the minutes of that, [hypotheses]; a guess where
        nothing helps."""
        unknown = self.trees.costs.hand_over
        singles = self.hypotheses.singles
        each, spent = np.full(singles, unknown), np.full(singles, unknown)
        if not self.remedies:
            nothing_helps = np.full(len(self.hypotheses.probability), unknown)
            return nothing_helps, nothing_helps
        removal = self._repair_now
        minutes = np.array([repair.minutes + repair.entry for repair in self.remedies])
        helps = removal.chance > 0.01
        remedy, fault, chance = removal.remedy[helps], removal.fault[helps], removal.chance[helps]
        price = removal.costs[remedy] / chance
        # The cheapest for each fault, the earlier of equals: what is written last stays.
        order = np.lexsort((-remedy, -price))
        each[fault[order]] = price[order]
        spent[fault[order]] = minutes[remedy[order]] / chance[order]
        return self._of_each(each), self._of_each(spent)

    def _of_each(self, fault: Array) -> Array:
        """A hypothesis's amount from that of its faults, [singles]."""
        first, second = self.hypotheses.first, self.hypotheses.second
        amounts: Array = fault[first] + np.where(second >= 0, fault[second], 0.0)
        return amounts

    def _short_actions(self) -> list[Repair]:
        short = list(self.remedies[:_MOST_ACTIONS])
        # What would repair the likeliest suspects is always looked at, however dear.
        likely = np.argsort(-self.hypotheses.probability, kind="stable")[:2]
        for hypothesis in likely:
            best = min(
                (repair for repair in self.remedies if repair.removes(int(hypothesis))),
                key=lambda r: r.cost,
                default=None,
            )
            if best is not None and best not in short:
                short[-1:] = [best]
        return short

    @cached_property
    def deciding(self) -> tuple[int, ...]:
        """The candidates worth weighing of which some answer would change what is done next, by their places: another
        cause would lead, or another remedy be put."""
        weighed = self._worth_weighing
        if not weighed or not self.remedies:
            return tuple(weighed)
        chosen = [self.candidates[place] for place in weighed]
        rows = np.concatenate([self.hypotheses.probability * c.likelihood for c in chosen])
        leader, remedy = self._leaders(rows), self._remedies_put(rows)
        seldom = rows.sum(axis=1) < _SELDOM
        found, first = [], 0
        for place, candidate in zip(weighed, chosen, strict=True):
            own = slice(first, first + len(candidate.answers))
            first = own.stop
            done = {
                (int(a), int(b)) for a, b, rare in zip(leader[own], remedy[own], seldom[own], strict=True) if not rare
            }
            if len(done) > 1:
                found.append(place)
        return tuple(found)

    def _leaders(self, rows: Array) -> Indices:
        """The cause that leads in each of ``rows`` [beliefs, hypotheses]."""
        singles = self.hypotheses.singles
        present = rows[:, :singles].copy()
        for place in range(singles, rows.shape[1]):
            present[:, self.hypotheses.first[place]] += rows[:, place]
            present[:, self.hypotheses.second[place]] += rows[:, place]
        leader: Indices = present.argmax(axis=1)
        return leader

    def _remedies_put(self, rows: Array) -> Indices:
        """The remedy that ends most for its cost in each of ``rows`` [beliefs, hypotheses]."""
        removal = self._repair_now
        put: Indices = (removal.fixes(rows) / removal.costs).argmax(axis=1)
        return put

    def _short_candidates(self, repairs: Sequence[Repair]) -> list[Candidate]:
        weighed = self._worth_weighing
        savings = dict(zip(weighed, self._savings(weighed), strict=True))
        by_saving = sorted(weighed, key=lambda place: (-savings[place], self._place[self.candidates[place].way.goal]))
        short: list[Candidate] = []
        size = 1 << len(repairs)
        for candidate in _alternating([self.candidates[place] for place in by_saving], self.candidates):
            larger = size * (candidate.likelihood.shape[0] + 1)
            if larger > _MOST_CELLS:
                continue
            size = larger
            short.append(candidate)
            if len(short) == _MOST_QUESTIONS:
                break
        return short

    @cached_property
    def _repair_now(self) -> Remedies:
        """Every remedy, entered from the present state."""
        costs = np.array([repair.cost + repair.entry for repair in self.remedies])
        return self._removal(costs, [repair.chances for repair in self.remedies])

    @cached_property
    def _worth_weighing(self) -> list[int]:
        """The candidates whose saving is looked at, by their places: all, or those that may well save the most."""
        if len(self.candidates) <= _MOST_WEIGHED:
            return list(range(len(self.candidates)))
        bound = self._least_saving()
        by_bound = sorted(range(len(self.candidates)), key=lambda i: (-bound[i], self.candidates[i].way.goal))
        return list(dict.fromkeys([*by_bound[: _MOST_WEIGHED // 2], *range(_MOST_WEIGHED // 2)]))

    def _savings(self, places: Sequence[int]) -> list[float]:
        """What asking once, then repairing, saves over repairing at once, for each of these candidates."""
        if not places:
            return []
        chosen = [self.candidates[place] for place in places]
        probability = self.hypotheses.probability
        rows = np.concatenate([probability[None], *(probability * c.likelihood for c in chosen)])
        costs = self._repair_now.costs_of_repair(rows, self._hand_over)
        first = np.cumsum([0, *(len(c.answers) for c in chosen[:-1])])
        after = np.add.reduceat(costs[1:], first)
        # Rounded, so that checks that save the same stand in the order of their names on any machine.
        return [round(float(costs[0] - c.cost - c.entry - a), 9) for c, a in zip(chosen, after, strict=True)]

    def _least_saving(self) -> Array:
        """A bound from below of what each candidate saves, all at once: after each answer the repair goes on in the
        best of a few orders. These are the order of now with a promising remedy brought to the front, and handing over.
        """
        removal, probability = self._repair_now, self.hypotheses.probability
        singles, stack = self.hypotheses.singles, self.standing.situation.stack
        costs = [self._hand_over]
        if len(removal.costs):
            gain = removal.fixes(probability[None])[0] / removal.costs
            order = np.argsort(-gain, kind="stable")
            for front in order[:_BOUND_ORDERS]:
                moved = np.concatenate([[front], order[order != front]]).astype(np.intp)
                costs.append(removal.cost_in_order(moved, self._hand_over))
        now = min(float(probability @ cost) for cost in costs)
        after = np.full(len(stack.usual), np.inf)
        for cost in costs:
            weighed = probability * cost
            after = np.minimum(after, stack.times(weighed[:singles]) + self._pair_rows @ weighed[singles:])
        by_check = stack.by_check(after)
        places = [self._place[c.way.goal] for c in self.candidates]
        spent = np.array([c.cost + c.entry for c in self.candidates])
        bound: Array = now - spent - by_check[places]
        return bound

    @cached_property
    def plan(self) -> Plan:
        return Plan(self.problem)

    def best(self) -> Suggestion:
        """The step with the lowest expected cost to a proven door."""
        return self._best

    @cached_property
    def _best(self) -> Suggestion:
        plan = self.plan
        choice = self._first(plan)
        others = sorted(plan.costs_of_first().items(), key=lambda item: item[1])
        alternatives = tuple((_kind(kind), name, cost) for (kind, name), cost in others)
        return Suggestion(
            _kind(choice.kind),
            choice.name,
            self._way(choice),
            choice.expected_cost,
            Prospect(*plan.outcomes()),
            alternatives,
        )

    def _first(self, plan: Plan) -> Choice:
        """The plan's first step; where some checks were left out of it, the most telling of the equally good ones.

        The optimum often asks several questions whatever their answers, and does not care in which order; a person
        does, and the plan is made anew after each answer. So one whose answer changes what is done next comes before
        one that only would together with others, even where it is dearer.
        """
        choice = plan.first()
        decide = {self.candidates[place].way.goal for place in self.deciding}
        costs = plan.costs_of_first()
        if self._surest >= _SURE_ENOUGH:
            choice = self._what_matters(choice, costs, decide)
        elif float(self.standing.belief.causes()[-1]) >= _SURE_ENOUGH and choice.name not in decide:
            choice = Choice("hand over", "", costs.get(("hand over", ""), choice.expected_cost))
        if choice.kind == "action" and self._is_rash(choice.name):
            choice = self._looked_at_first(choice, costs, decide)
        if choice.kind == "hand over":
            choice = self._known_first(choice, costs)
        if choice.kind == "look further":
            ahead = next((c for c in self.candidates if c.way.goal in decide), self.candidates[0])
            return Choice("question", ahead.way.goal, choice.expected_cost)
        if choice.kind != "question" or len(self.problem.questions) == len(self.candidates):
            return choice
        # Nobody changes the state of a door and back again for what is as good as what can be done here.
        here = next((c.entry for c in self.candidates if c.way.goal == choice.name), 0.0)
        asked = {c.way.goal: costs.get(("question", c.way.goal), np.inf) for c in self.candidates if c.entry <= here}
        equal = [c for c in self.candidates if asked.get(c.way.goal, np.inf) <= choice.expected_cost + _AS_GOOD]
        telling = [c for c in self.candidates if asked.get(c.way.goal, np.inf) <= choice.expected_cost + _RATHER]
        best = max([c for c in telling if c.way.goal in decide] or equal, key=lambda c: c.per_minute, default=None)
        return choice if best is None else Choice("question", best.way.goal, asked[best.way.goal])

    @property
    def _surest(self) -> float:
        """How likely the likeliest suspect is."""
        return float(self.standing.belief.causes()[:-1].max(initial=0.0))

    def _what_matters(self, choice: Choice, costs: Mapping[tuple[str, str], float], decide: Collection[str]) -> Choice:
        """What the plan does next if it asks nothing that leaves everything as it is: of its remedies, the one that is
        most likely the right one."""
        if choice.kind not in ("question", "look further") or choice.name in decide:
            return choice
        fixes = {repair.remedy.id: repair.fixes for repair in self.remedies}
        put = max((step for step in costs if step[0] == "action"), key=lambda step: fixes[step[1]], default=None)
        left = {step: cost for step, cost in costs.items() if step == put or step[1] in decide}
        if not left:
            return choice
        kind, name = min(left, key=lambda step: (round(left[step], 9), step))
        return Choice(kind, name, left[kind, name])

    def _is_rash(self, remedy: str) -> bool:
        """Whether a remedy would be a guess that is not cheap: as likely in vain as not, with work or parts to pay."""
        repair = next(each for each in self.remedies if each.remedy.id == remedy)
        return repair.fixes < LIKELY and repair.cost + repair.entry > _CHEAP

    def _looked_at_first(
        self, choice: Choice, costs: Mapping[tuple[str, str], float], decide: Collection[str]
    ) -> Choice:
        """What the plan does in place of a guess: ask what may change it, or hand over what no tree seems to name, or
        nothing that is left to do mends."""
        belief = self.standing.belief.causes()
        mended = {cause for repair in self.remedies for cause in repair.chances}
        given_up = belief[-1] >= max(belief[cause] for cause in mended)
        left = {
            step: cost for step, cost in costs.items() if step[1] in decide or (given_up and step[0] == "hand over")
        }
        if not left:
            return choice
        kind, name = min(left, key=lambda step: (round(left[step], 9), step))
        return Choice(kind, name, left[kind, name])

    def _known_first(self, choice: Choice, costs: Mapping[tuple[str, str], float]) -> Choice:
        """What is surely broken is mended before the rest is handed over."""
        present = self.standing.belief.causes()[:-1]
        leader = int(np.argmax(present)) if len(present) else -1
        if leader < 0 or present[leader] < _SURE_ENOUGH:
            return choice
        mends = (r for r in self.remedies if r.chances.get(leader, 0.0) >= 0.5 and ("action", r.remedy.id) in costs)
        best = min(mends, key=lambda r: (round(costs["action", r.remedy.id], 9), r.remedy.id), default=None)
        return choice if best is None else Choice("action", best.remedy.id, costs["action", best.remedy.id])

    def _way(self, choice: Choice) -> tuple[str, ...]:
        if choice.kind != "question":
            return ()
        return next(c.way.steps for c in self.candidates if c.way.goal == choice.name)


@dataclass(frozen=True)
class Hypotheses:
    """The fault sets planned over: every single suspect, and the likeliest pairs. ``probability`` sums to 1."""

    probability: Array
    first: Indices
    second: Indices
    singles: int

    @staticmethod
    def of(belief: Belief) -> Hypotheses:
        singles = len(belief.single)
        probability, first = belief.single, np.arange(singles)
        second = np.full(singles, -1)
        pair = belief.pair
        if pair is not None and belief.pairs > 1e-6:
            likely = np.flatnonzero(pair.weight > 1e-5)
            kept = likely[np.argsort(-pair.weight[likely], kind="stable")[:_MOST_PAIRS]]
            probability = np.concatenate([probability, pair.weight[kept]])
            first = np.concatenate([first, pair.first[kept]])
            second = np.concatenate([second, pair.second[kept]])
        total = float(probability.sum())
        return Hypotheses(probability / total if total > 0 else probability, first, second, singles)

    def pair_rows(self, situation: Situation) -> Array:
        """P(answer | pair) of every answer of every check, [rows, pairs]."""
        stack = situation.stack
        first, second = self.first[self.singles :], self.second[self.singles :]
        if not len(first):
            return np.zeros((len(stack.usual), 0))
        faults, inverse = np.unique(np.concatenate([first, second]), return_inverse=True)
        shown, own = stack.dense(faults)
        one, other = np.split(inverse, 2)
        worse = np.where(own[:, one] >= own[:, other], shown[:, one], shown[:, other])
        healthy, flat, slip = stack.healthy[:, None], stack.flat[:, None], stack.slip[:, None]
        both = shown_by_both(shown[:, one], shown[:, other], own[:, one], own[:, other], healthy, flat, slip)
        rows = np.where(stack.numeric[:, None], worse, both)
        whole = stack.by_check(rows)[stack.of_row]
        result: Array = np.divide(rows, whole, out=np.full_like(rows, 0.0), where=whole > 0)
        return result

    def either(self, shown: Array) -> Array:
        """P(seen | hypothesis) of what is seen as soon as one of its faults shows it, from ``shown`` [causes]."""
        second = np.where(self.second >= 0, shown[self.second], 0.0)
        either: Array = np.maximum(shown[self.first], second)
        return either

    def leaves(self, chances: Array) -> Array:
        """P(fault stays) of each hypothesis's two faults, [2, hypotheses]."""
        stays = 1 - chances
        second = np.where(self.second >= 0, stays[self.second], 0.0)
        return np.stack([stays[self.first], second])


@dataclass(frozen=True)
class _Done:
    """Steps, what they cost on the one scale, their minutes, and what it costs to get into the states they are done in,
    from where one stands."""

    steps: tuple[Task, ...]
    cost: float
    minutes: float
    entry: float


@lru_cache(maxsize=32)
def _whole_scale(held: Held, here: str, fetched: frozenset[str], people: frozenset[str]) -> _Scale:
    """The scale of all that the trees know, kept from answer to answer: most change nothing of where one stands."""
    trees = held.trees
    return _Scale(trees, here, fetched, people, trees.energy, trees.access)


class _Scale:
    """Costs on one scale, and the states one may work in: an energy state, and what has been fetched to stand on.

    Only states that ``energies`` and ``places`` name are told apart: the fewer, the smaller the plan.
    """

    def __init__(
        self,
        trees: Trees,
        here: str,
        fetched: Collection[str],
        people: Collection[str],
        energies: Collection[str],
        places: Collection[str],
    ) -> None:
        self._trees, self._people = trees, people
        known = [name for name in trees.energy if name in energies or name == here]
        self._energies = [name for name in known if name != ANY] or [ANY]
        self._places = [name for name, place in trees.access.items() if place.minutes > 0 and name in places]
        fetchings = [
            frozenset(p for i, p in enumerate(self._places) if bits >> i & 1) for bits in range(1 << len(self._places))
        ]
        self._whereabouts = [Whereabouts(energy, there) for energy in self._energies for there in fetchings]
        self._state_at = {where: state for state, where in enumerate(self._whereabouts)}
        energy = here if here in self._energies else self._energies[0]
        self.states = len(self._whereabouts)
        self.start = self._state_at[Whereabouts(energy, frozenset(self._places).intersection(fetched))]
        self._known: dict[tuple[str, str], Change] = {}
        self._done: dict[tuple[str, ...], _Done] = {}
        self._repaired: dict[str, _Done] = {}

    def done(self, checks: tuple[str, ...]) -> _Done:
        """What it takes to do checks in a row; those that are computed take nothing."""
        if checks not in self._done:
            named = (self._trees.checks[identity] for identity in checks)
            steps = tuple(check for check in named if check.kind != "computed")
            cost = self.in_a_row(steps) + self._trees.costs.asking * len(steps)
            self._done[checks] = _Done(steps, cost, self.minutes(steps), self.entry(steps))
        return self._done[checks]

    def repaired(self, remedy: Remedy) -> _Done:
        """What it takes to do a remedy, with its parts and the proof that follows."""
        if remedy.id not in self._repaired:
            proofs = [self._trees.proofs[proof] for proof in remedy.proofs]
            steps: tuple[Task, ...] = (remedy, *proofs[:1])
            cost = self.in_a_row(steps) + self._trees.price(remedy.parts) / self._trees.costs.money_per_minute
            # Proofs that the door needs in any case are counted with its closing.
            minutes = self.minutes([remedy, *(proof for proof in proofs if proof.required != "yes")])
            self._repaired[remedy.id] = _Done(steps, cost, minutes, self.entry(steps))
        return self._repaired[remedy.id]

    def in_a_row(self, steps: Sequence[Task]) -> float:
        """Minutes' worth of steps one after the other: the time of their crews, the reluctance to work in each state
        and place, once for each stay, and bringing whoever may do them, once."""
        costs = self._trees.costs
        crews = sum(step.minutes * step.crew for step in steps)
        stays = [stay for stay, _ in itertools.groupby((step.energy, step.access) for step in steps)]
        reluctance = sum(costs.discomfort.get(state, 0.0) + costs.discomfort.get(place, 0.0) for state, place in stays)
        absent = dict.fromkeys(step.who for step in steps if step.who not in self._people)
        return crews + reluctance + sum(self._trees.people[who].call_out for who in absent)

    def minutes(self, steps: Sequence[Task]) -> float:
        """How long the steps take, whoever may do them called once."""
        return _minutes_of(self._trees, steps, self._people)

    def through(self, steps: Sequence[Task]) -> Change:
        """Going through several steps, one after the other."""
        to, cost = np.arange(self.states), np.zeros(self.states)
        for step in steps:
            change = self._enter(step.energy, step.access)
            cost = cost + change.cost[to]
            to = change.to[to]
        return Change(to, cost)

    def entry(self, steps: Sequence[Task]) -> float:
        """What the changes of state cost when these steps are done from where one stands now."""
        state, total = self.start, 0.0
        for step in steps:
            state, cost = self._entered(state, step.energy, step.access)
            total += cost
        return total

    def _enter(self, energy: str, access: str) -> Change:
        key = (energy, access)
        if key not in self._known:
            pairs = [self._entered(state, energy, access) for state in range(self.states)]
            self._known[key] = Change(np.array([to for to, _ in pairs]), np.array([cost for _, cost in pairs]))
        return self._known[key]

    def _entered(self, state: int, energy: str, access: str) -> tuple[int, float]:
        """The state after entering one, and the minutes it takes; what the scale does not tell apart takes none."""
        energy = energy if energy in self._energies else ANY
        access = access if access in self._places else ""
        minutes, there = enter(self._trees, self._whereabouts[state], energy, access)
        return self._state_at[there], minutes


def information(probability: Array, likelihood: Array) -> float:
    """Bits an answer is expected to tell about the hypothesis: I = Σ p·L·log₂(L / Σ p·L)."""
    marginal = likelihood @ probability
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(likelihood > 0, likelihood * np.log2(likelihood / marginal[:, None]), 0.0)
    return float(max(0.0, (terms @ probability).sum()))


def entropy(probability: Array) -> float:
    """Bits still unknown."""
    known = probability[probability > 0]
    return float(-(known * np.log2(known)).sum())


def proofs_needed(
    trees: Trees, facts: Mapping[str, str | tuple[str, ...]], remedies: Collection[str]
) -> tuple[Proof, ...]:
    """The proofs this door needs before it returns to service: its own, and those of the remedies done."""
    known = [trees.remedies[remedy] for remedy in remedies if remedy in trees.remedies]
    named = {proof for remedy in known for proof in remedy.proofs}
    return tuple(
        proof
        for proof in trees.proofs.values()
        if applies_to(proof, facts) and (proof.required == "yes" or proof.id in named)
    )


def closing_minutes(trees: Trees, proofs: Collection[Proof], facts: Facts, present: Collection[str]) -> float:
    """Minutes of the proofs on a door that was just tried, and is handed back with its power on.

    Each other state that a proof needs is entered once, and each person not ``present`` called once. What the door may
    not need, as far as its ``facts`` are known, counts by the chance that it does.
    """
    power = power_state(trees)
    minutes, states, absent = 0.0, dict[str, float](), dict[str, float]()
    for proof in proofs:
        excused = chance_of(trees, proof.unless, facts) if proof.unless else 0.0
        chance = chance_of(trees, proof.applies, facts) * (1 - excused)
        minutes += chance * proof.minutes
        if proof.energy not in (ANY, power):
            states[proof.energy] = max(chance, states.get(proof.energy, 0.0))
        if proof.who not in present:
            absent[proof.who] = max(chance, absent.get(proof.who, 0.0))
    minutes += sum(chance * trees.people[who].call_out for who, chance in absent.items())
    minutes += sum(chance * state_minutes(trees, state, power) for state, chance in states.items())
    if states and power:
        last = max(states, key=lambda state: states[state])
        minutes += states[last] * state_minutes(trees, power, last)
    return minutes


def _minutes_of(trees: Trees, steps: Collection[Task], present: Collection[str]) -> float:
    absent = {step.who for step in steps} - set(present)
    return sum(step.minutes for step in steps) + sum(trees.people[who].call_out for who in absent)


def _for_certain(minutes: float) -> Prospect:
    return Prospect(np.array([minutes]), np.ones(1))


def _kind(kind: str) -> str:
    return {"question": "check", "action": "remedy"}.get(kind, "stop")


def _alternating(*ranked: Sequence[Candidate]) -> list[Candidate]:
    """The first of each list, then the second of each, without repeats."""
    turns = itertools.zip_longest(*ranked)
    found: dict[str, Candidate] = {}
    for turn in turns:
        for candidate in turn:
            if candidate is not None:
                found.setdefault(candidate.way.goal, candidate)
    return list(found.values())


def _quantile(values: Array, weights: Array, level: float) -> float:
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    return float(values[order][min(int(np.searchsorted(reached, level)), len(values) - 1)])


__all__ = [
    "LIKELY",
    "UNLISTED",
    "Planner",
    "Prospect",
    "Standing",
    "Suggestion",
    "closing_minutes",
    "information",
    "proofs_needed",
]
