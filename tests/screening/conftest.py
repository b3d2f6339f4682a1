"""Small trees of our own to reckon by hand, and the trees that ship."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from diagnose import Call, load_trees
from diagnose.knowledge.model import Trees, Van

TREES = Path(__file__).parent / "trees"


@pytest.fixture(scope="session")
def dock() -> Trees:
    return load_trees(TREES, cache=False)


@pytest.fixture
def shipped(shipped_trees: Trees) -> Trees:
    return shipped_trees


@pytest.fixture
def van(dock: Trees) -> Van:
    return dock.vans["small van"]


Begin = Callable[..., Call]


@pytest.fixture
def begin(dock: Trees) -> Begin:
    def make(*symptoms: str, facts: dict[str, Any] | None = None, trees: Trees | None = None, **more: Any) -> Call:
        moments = iter(range(10_000))
        start = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
        clock = lambda: start + timedelta(seconds=next(moments))  # noqa: E731
        return Call(trees or dock, facts or {}, symptoms, clock=clock, **more)

    return make
