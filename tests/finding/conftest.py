"""The trees that ship."""

from __future__ import annotations

import pytest

from diagnose.knowledge.model import Trees


@pytest.fixture(scope="session")
def shipped(shipped_trees: Trees) -> Trees:
    return shipped_trees
