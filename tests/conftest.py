"""What many tests share: a small set of trees, kept apart from the ones that ship so that these stay free to change."""

from __future__ import annotations

import gc
import os
import secrets
from collections.abc import Iterator
from functools import cache
from pathlib import Path

# As the program does, and before anything loads it: with threads of its own it takes twice as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
import sqlalchemy as sql
from hypothesis import HealthCheck, settings

from diagnose.knowledge.checker import Book
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees

# A PostgreSQL database to make and drop schemas in, as postgresql://user@host/name: `.ci/postgres start` gives one.
POSTGRES = os.environ.get("DIAGNOSE_TEST_POSTGRES", "")
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


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes long is begun first, so that no worker is still at it when the others have nothing left to do."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)


@pytest.fixture
def postgres() -> Iterator[str]:
    """The URL of an empty schema of the test's own."""
    if not POSTGRES:
        reason = "DIAGNOSE_TEST_POSTGRES names no database"
        (pytest.fail if os.environ.get("CI") else pytest.skip)(reason)
    schema = f"test_{secrets.token_hex(6)}"
    engine = sql.create_engine(POSTGRES.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        connection.execute(sql.text(f"CREATE SCHEMA {schema}"))
    yield f"{POSTGRES}?options=-csearch_path%3D{schema}"
    with engine.begin() as connection:
        connection.execute(sql.text(f"DROP SCHEMA {schema} CASCADE"))
    engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A new place for a store, once for each kind of database."""
    return str(tmp_path / "calls.sqlite3") if request.param == "sqlite" else request.getfixturevalue("postgres")


@pytest.fixture(scope="session")
def small_trees() -> Trees:
    """One family about photo eyes, with everything shared that it needs."""
    return load_trees(SMALL, cache=False)


# Of trees and screens much is made and most of it stays: to look for garbage among them as often as Python does takes
# a sixth of all tests' time.
gc.set_threshold(50_000, 20, 50)


@cache
def read_shipped() -> Book:
    """Read once for all tests, so none may change it."""
    book = Book.read()
    gc.collect()
    gc.freeze()
    return book


@pytest.fixture(scope="session")
def shipped_book() -> Book:
    """The trees that ship, with the lines they are written on."""
    return read_shipped()


@pytest.fixture(scope="session")
def shipped_trees(shipped_book: Book) -> Trees:
    """The trees that ship."""
    return shipped_book.trees
