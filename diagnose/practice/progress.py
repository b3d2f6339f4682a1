"""What a trainee can do by now, and what to practise next.

A skill is the mean of what was shown, the latest counting most. When a family comes round again follows Leitner's
boxes (*So lernt man lernen*, 1972): each good practice doubles the days until it is due, a poor one begins anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from diagnose.knowledge.model import Trees, applies
from diagnose.practice.debrief import HABIT_TITLES
from diagnose.practice.records import Practice
from diagnose.practice.scenario import LEVELS, Level, Scenario, family_of, remedies_for

# Each practice counts this much of the one after it.
_FADES = 0.7
# A score from which a practice was a good one, and the days until a family is due again after the first of them.
GOOD = 75.0
_FIRST_DAYS = 1.0
_MOST_DOUBLINGS = 6
# Shares of a habit's points below which it is worth practising, and of all points below which easy doors come first.
_WEAK = 0.8
_EASY_BELOW, _MEDIUM_BELOW = 0.6, 0.8
# What is held of a trainee nothing is known of.
_UNKNOWN = 0.5
_COSTLY = 80.0
_MANY_SUSPECTS = 12


@dataclass(frozen=True)
class Skill:
    """``share`` is 0 to 1, ``count`` how many practices it is drawn from, ``due`` when it should come round again."""

    share: float
    count: int
    due: datetime | None = None


@dataclass(frozen=True)
class Progress:
    """A trainee's record: by family, by habit, and all in all."""

    finished: tuple[Practice, ...]
    families: Mapping[str, Skill]
    habits: Mapping[str, Skill]

    @property
    def overall(self) -> float:
        return _faded([practice.result.score / 100 for practice in self.finished if practice.result])


@dataclass(frozen=True)
class Advice:
    """What to practise next, and why."""

    scenario: Scenario
    why: str


def progress_of(practices: Iterable[Practice]) -> Progress:
    """Skills from one trainee's practices, oldest first."""
    finished = tuple(practice for practice in practices if practice.result is not None)
    by_family: dict[str, list[Practice]] = {}
    by_habit: dict[str, list[float]] = {}
    for practice in finished:
        result = practice.came
        by_family.setdefault(result.family, []).append(practice)
        for habit, share in result.habits.items():
            by_habit.setdefault(habit, []).append(share)
    families = {
        family: Skill(_faded([each.came.score / 100 for each in those]), len(those), _due(those))
        for family, those in by_family.items()
    }
    habits = {habit: Skill(_faded(shares), len(shares)) for habit, shares in by_habit.items()}
    return Progress(finished, families, {habit: habits[habit] for habit in HABIT_TITLES if habit in habits})


def next_practice(trees: Trees, scenarios: Mapping[str, Scenario], progress: Progress, now: datetime) -> Advice | None:
    """The scenario that a trainee gains most by, ``None`` where there is none at all.

    Families that are due and weak come first, then the level that suits, then the weakest habit, then what was not
    done yet or longest ago.
    """
    if not scenarios:
        return None
    families = {identity: family_of(trees, scenario) for identity, scenario in scenarios.items()}
    family = max(dict.fromkeys(families.values()), key=lambda name: _need(progress, name, now))
    level = level_for(progress.families[family].share if family in progress.families else progress.overall)
    weak = weakest_habit(progress)
    last_done = {practice.scenario.id: number for number, practice in enumerate(progress.finished)}

    def rank(scenario: Scenario) -> tuple[int, int, int]:
        apart = abs(LEVELS.index(scenario.level) - LEVELS.index(level))
        suits_habit = bool(weak) and weak in exercises(trees, scenario)
        return (last_done.get(scenario.id, -1), apart, -int(suits_habit))

    chosen = min((scenarios[i] for i, name in families.items() if name == family), key=rank)
    skill = progress.families.get(family)
    title = trees.families[family].title if family in trees.families else family
    reason = "not practised yet" if skill is None else f"at {100 * skill.share:.0f} %"
    if skill is not None and skill.due is not None and skill.due <= now:
        reason += ", due again"
    why = f"{title}: {reason}."
    if weak and weak in exercises(trees, chosen):
        why += f" It also exercises what is weakest: {HABIT_TITLES[weak].lower()}."
    return Advice(chosen, why)


def weakest_habit(progress: Progress) -> str:
    """The habit most worth practising; ``""`` where none is weak."""
    weak = {habit: skill.share for habit, skill in progress.habits.items() if skill.share < _WEAK}
    return min(weak, key=lambda habit: weak[habit], default="")


def level_for(share: float) -> Level:
    """The level that suits somebody of this skill."""
    return "easy" if share < _EASY_BELOW else "medium" if share < _MEDIUM_BELOW else "hard"


def exercises(trees: Trees, scenario: Scenario) -> set[str]:
    """The habits that a scenario asks for, by what its faults and its suspects take."""
    found = {"order"} if len(_suspects(trees, scenario)) >= _MANY_SUSPECTS else set()
    signs = [trees.checks[name] for cause in scenario.causes for name in trees.causes[cause].signs]
    if any(check.kind == "reading" for check in signs):
        found.add("instruments")
    remedies = [trees.remedies[name] for cause in scenario.causes for name in remedies_for(trees, cause, scenario)]
    if any(trees.energy[remedy.energy].cautions and trees.energy[remedy.energy].powered == "no" for remedy in remedies):
        found.add("safety")
    if any(remedy.who not in scenario.people for remedy in remedies):
        found.add("safety")
    costly = 0
    for cause in _suspects(trees, scenario):
        for name in trees.causes[cause].remedies:
            costly += trees.price(trees.remedies[name].parts) >= _COSTLY
    if costly >= 2:
        found.add("thrift")
    return found


def _suspects(trees: Trees, scenario: Scenario) -> list[str]:
    named = dict.fromkeys(cause for symptom in scenario.symptoms for cause in trees.symptoms[symptom].causes)
    return [cause for cause in named if applies(trees.causes[cause].applies, scenario.facts)]


def _need(progress: Progress, family: str, now: datetime) -> float:
    """How much a family wants practising: what is lacking, more where it is due, little where it is not."""
    skill = progress.families.get(family)
    if skill is None:
        return 1 - _UNKNOWN + 0.5
    lacking = 1 - skill.share
    assert skill.due is not None
    return lacking + 0.5 if skill.due <= now else 0.3 * lacking


def _due(practices: Sequence[Practice]) -> datetime:
    run = 0
    for practice in practices:
        run = run + 1 if practice.came.score >= GOOD else 0
    days = _FIRST_DAYS * 2 ** min(max(run - 1, 0), _MOST_DOUBLINGS)
    return practices[-1].at + timedelta(days=days)


def _faded(shares: Sequence[float]) -> float:
    """The mean of ``shares``, the last counting most; what is held of the unknown where there is none."""
    if not shares:
        return _UNKNOWN
    weights = [_FADES ** (len(shares) - 1 - number) for number in range(len(shares))]
    return sum(share * weight for share, weight in zip(shares, weights, strict=True)) / sum(weights)
