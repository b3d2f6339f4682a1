"""Moving between states: bringing the door into another energy state, and fetching what one stands on.

Planning, visits played through, practice and its judging all count these minutes here, so that a change of state costs
the same whoever asks.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import NamedTuple

from diagnose.knowledge.model import ANY, Task, Trees


class Whereabouts(NamedTuple):
    """Where one is: the energy state of the door by id, and the ids of the places to work from that were fetched."""

    energy: str
    fetched: frozenset[str] = frozenset()


def state_minutes(trees: Trees, energy: str, here: str) -> float:
    """Minutes to bring the door from the state ``here`` into ``energy``; none for a step that is done in any state."""
    return 0.0 if energy in (ANY, here) else trees.energy[energy].minutes_from(here)


def fetching_minutes(trees: Trees, access: str, fetched: Collection[str]) -> float:
    """Minutes to fetch what is worked from; none for the floor, or once it is there."""
    return 0.0 if access in fetched or access not in trees.access else trees.access[access].minutes


def enter(trees: Trees, here: Whereabouts, energy: str, access: str) -> tuple[float, Whereabouts]:
    """The minutes until one can work in a state and from a place, and where one is then."""
    minutes = state_minutes(trees, energy, here.energy)
    fetching = fetching_minutes(trees, access, here.fetched)
    fetched = here.fetched | {access} if fetching > 0 else here.fetched
    return minutes + fetching, Whereabouts(here.energy if energy == ANY else energy, fetched)


def go_through(trees: Trees, here: Whereabouts, steps: Iterable[Task]) -> tuple[float, Whereabouts]:
    """The minutes that steps take one after the other, changes of state and fetching included, and where one is then.

    A step that takes several people still takes its minutes once.
    """
    minutes = 0.0
    for step in steps:
        moving, here = enter(trees, here, step.energy, step.access)
        minutes += moving + step.minutes
    return minutes, here
