"""A scenario of our own on the small trees, and a way to play it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import msgspec
import pytest

from diagnose.knowledge.model import Trees
from diagnose.practice.acts import AnyAct
from diagnose.practice.library import Library, load_library
from diagnose.practice.scenario import Scenario
from diagnose.practice.session import Session

SCENARIOS = Path(__file__).parent / "small_scenarios"
POWERED, LOCKED = "powered, covers on", "off, locked and tagged"


@pytest.fixture(scope="session")
def library(small_trees: Trees) -> Library:
    return load_library(small_trees, SCENARIOS)


@pytest.fixture
def scenario(library: Library) -> Scenario:
    return library.scenarios["quiet-lane"]


Play = Callable[..., Session]


@pytest.fixture
def play(small_trees: Trees, library: Library, scenario: Scenario) -> Play:
    """``play(*acts)``: the scenario with changes, and what was done in it."""

    def make(*acts: AnyAct, seed: int = 0, hints: bool = True, **changes: object) -> Session:
        changed = msgspec.structs.replace(scenario, **changes)
        session = Session(small_trees, changed, seed, library.consequences, hints=hints)
        do_all(session, acts)
        return session

    return make


def do_all(session: Session, acts: Iterable[AnyAct]) -> None:
    for act in acts:
        session.do(act)


def said(session: Session) -> str:
    """All that the trainee was told by the last act."""
    return " ".join(line.text for line in session.done[-1].lines)
