"""What many tests share: a small set of trees, kept apart from the ones that ship so that these stay free to change."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from diagnose.knowledge.checker import Book
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees

SMALL = Path(__file__).parent / "small_trees"

# An example that takes long on a busy machine is no fault.
settings.register_profile("no clock", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("no clock")


@pytest.fixture(autouse=True)
def _own_folders(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads or writes the user's own cache, settings or calls."""
    home = tmp_path_factory.getbasetemp() / "home"
    monkeypatch.setenv("DIAGNOSE_CACHE", str(home / "cache"))
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(home / "settings.toml"))
    monkeypatch.setenv("DIAGNOSE_LOG", str(home / "log"))
    monkeypatch.setenv("DIAGNOSE_LEARNED", str(home / "learned.yaml"))
    monkeypatch.setenv("DIAGNOSE_STORE", str(home / "calls.sqlite3"))


@pytest.fixture(scope="session")
def small_trees() -> Trees:
    """One family about photo eyes, with everything shared that it needs."""
    return load_trees(SMALL, cache=False)


@cache
def read_shipped() -> Book:
    """Read once for all tests, so none may change it."""
    return Book.read()


@pytest.fixture(scope="session")
def shipped_book() -> Book:
    """The trees that ship, with the lines they are written on."""
    return read_shipped()


@pytest.fixture(scope="session")
def shipped_trees(shipped_book: Book) -> Trees:
    """The trees that ship."""
    return shipped_book.trees
