"""What a trainer sees: a class's results, the wrong turns that are common, and how hard a scenario turned out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

from diagnose.practice.progress import Progress, progress_of
from diagnose.practice.records import Practice
from diagnose.practice.scenario import LEVELS, Level

# Mean scores of first tries down to which a scenario turned out easy, and medium; and how many tries say so.
_EASY_FROM, _MEDIUM_FROM = 80.0, 60.0
_ENOUGH = 3


@dataclass(frozen=True)
class Member:
    name: str
    progress: Progress
    begun: int

    @property
    def mean_score(self) -> float:
        return fmean(practice.came.score for practice in self.progress.finished)

    @property
    def solved(self) -> int:
        return sum(practice.came.solved for practice in self.progress.finished)


@dataclass(frozen=True)
class CommonTurn:
    """A wrong turn that several took. ``trainees`` counts people, ``times`` practices."""

    did: str
    better: str
    trainees: int
    times: int


@dataclass(frozen=True)
class Observed:
    """How a scenario turned out, by each trainee's first try at it."""

    scenario_id: str
    title: str
    level: Level
    tries: int
    mean_score: float
    solved: float
    mean_minutes: float

    @property
    def turned_out(self) -> Level:
        return LEVELS[(self.mean_score < _EASY_FROM) + (self.mean_score < _MEDIUM_FROM)]

    @property
    def is_misgraded(self) -> bool:
        return self.tries >= _ENOUGH and self.turned_out != self.level


@dataclass(frozen=True)
class ClassView:
    """All of it. Members by name, wrong turns by how common, scenarios the hardest first."""

    members: tuple[Member, ...]
    turns: tuple[CommonTurn, ...]
    scenarios: tuple[Observed, ...]


def class_view(practices: Sequence[Practice]) -> ClassView:
    """A class from its practices, oldest first."""
    by_name: dict[str, list[Practice]] = {}
    for practice in practices:
        by_name.setdefault(practice.trainee.casefold(), []).append(practice)
    members = tuple(
        Member(those[-1].trainee, progress, len(those))
        for _, those in sorted(by_name.items())
        if (progress := progress_of(those)).finished
    )
    finished = [practice for practice in practices if practice.result is not None]
    return ClassView(members, _turns(finished), _observed(finished))


def _turns(finished: Iterable[Practice]) -> tuple[CommonTurn, ...]:
    times: Counter[tuple[str, str]] = Counter()
    people: dict[tuple[str, str], set[str]] = {}
    for practice in finished:
        turn = practice.came.wrong_turn
        if turn is None:
            continue
        key = (turn.did, turn.better)
        times[key] += 1
        people.setdefault(key, set()).add(practice.trainee.casefold())
    found = [CommonTurn(did, better, len(people[did, better]), count) for (did, better), count in times.items()]
    return tuple(sorted(found, key=lambda turn: (-turn.trainees, -turn.times, turn.did)))


def _observed(finished: Iterable[Practice]) -> tuple[Observed, ...]:
    first: dict[str, dict[str, Practice]] = {}
    for practice in finished:
        first.setdefault(practice.scenario.id, {}).setdefault(practice.trainee.casefold(), practice)
    found = []
    for identity, tries in first.items():
        results = [practice.came for practice in tries.values()]
        scenario = next(iter(tries.values())).scenario
        found.append(
            Observed(
                identity,
                scenario.title,
                scenario.level,
                len(results),
                fmean(result.score for result in results),
                fmean(result.solved for result in results),
                fmean(result.minutes for result in results),
            )
        )
    return tuple(sorted(found, key=lambda each: (each.mean_score, each.scenario_id)))
