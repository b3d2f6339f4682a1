"""The small trees of the screens, and a call on them."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose import load_trees
from diagnose.calls.call import Call
from diagnose.knowledge.model import Trees
from tests.tui.conftest import _wait_by_counting

__all__ = ["_wait_by_counting"]

TUI_TREES = Path(__file__).parents[1] / "tui" / "trees"


@pytest.fixture(scope="session")
def trees() -> Trees:
    return load_trees(TUI_TREES, cache=False)


def a_call(trees: Trees, *answers: tuple[str, str], symptoms: tuple[str, ...] = ("lamp-wrong",)) -> Call:
    call = Call(trees, {"devices": ["photo-eye"], "drive": "trolley"}, symptoms)
    for check, text in answers:
        call.answer(check, text)
    return call
