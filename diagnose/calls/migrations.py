"""The shape of the store, and how an older one becomes it: ordered, named steps, each in a transaction of its own.

A step is written once and never changed afterwards; a new shape is a new step at the end. The statements are plain
SQL that SQLite and PostgreSQL both take.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from diagnose.calls.database import Connection, Database, Taken
from diagnose.calls.faults import StoreError


class Migration(NamedTuple):
    """One step from an older shape to the next."""

    name: str
    statements: tuple[str, ...]


MIGRATIONS = (
    Migration(
        "calls and their events",
        (
            "CREATE TABLE call (id VARCHAR(40) NOT NULL PRIMARY KEY, begun_at VARCHAR(40) NOT NULL)",
            # Two writers cannot both append number 7.
            "CREATE TABLE event (call_id VARCHAR(40) NOT NULL REFERENCES call (id), sequence INTEGER NOT NULL, "
            "body TEXT NOT NULL, PRIMARY KEY (call_id, sequence))",
        ),
    ),
    Migration(
        "summaries to list and search by",
        (
            "CREATE TABLE summary (call_id VARCHAR(40) NOT NULL PRIMARY KEY REFERENCES call (id), "
            "sequence INTEGER NOT NULL, opened_at VARCHAR(40) NOT NULL, last_at VARCHAR(40) NOT NULL, "
            "site TEXT NOT NULL, door TEXT NOT NULL, site_folded TEXT NOT NULL, door_folded TEXT NOT NULL, "
            "symptoms TEXT NOT NULL, outcome VARCHAR(40), likely_cause VARCHAR(200), trouble TEXT NOT NULL)",
            "CREATE INDEX summary_opened_at ON summary (opened_at)",
        ),
    ),
    Migration(
        "what calls wait for",
        (
            "ALTER TABLE summary ADD COLUMN waiting TEXT NOT NULL DEFAULT ''",
            # Summaries are made again from the events at the next listing.
            "DELETE FROM summary",
        ),
    ),
    Migration(
        "doors and what is known of them",
        (
            "CREATE TABLE door (id VARCHAR(40) NOT NULL PRIMARY KEY, site TEXT NOT NULL, name TEXT NOT NULL, "
            "site_folded TEXT NOT NULL, name_folded TEXT NOT NULL, updated_at VARCHAR(40) NOT NULL)",
            "CREATE UNIQUE INDEX door_place ON door (site_folded, name_folded)",
            "CREATE TABLE door_revision (door_id VARCHAR(40) NOT NULL REFERENCES door (id), number INTEGER NOT NULL, "
            '"at" VARCHAR(40) NOT NULL, "by" TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY (door_id, number))',
        ),
    ),
    Migration(
        "lists that stay quick among a million calls",
        (
            # Every summary is made again once, at the next listing.
            "ALTER TABLE call ADD COLUMN behind INTEGER NOT NULL DEFAULT 1",
            "CREATE INDEX call_behind ON call (id) WHERE behind = 1",
            "CREATE INDEX call_begun_at ON call (begun_at, id)",
            "CREATE INDEX summary_open ON summary (opened_at, call_id) WHERE outcome IS NULL",
            "CREATE INDEX summary_troubled ON summary (call_id) WHERE trouble <> ''",
            "CREATE INDEX summary_unnamed ON summary (call_id) WHERE likely_cause IS NULL",
        ),
    ),
    Migration(
        "stores that meet: what two said differently, and how much each had when they last met",
        (
            "CREATE TABLE difference (id VARCHAR(40) NOT NULL PRIMARY KEY, kind VARCHAR(10) NOT NULL, "
            "about VARCHAR(40) NOT NULL, found_at VARCHAR(40) NOT NULL, found_by TEXT NOT NULL, "
            "stands TEXT NOT NULL, other TEXT NOT NULL, settled_at VARCHAR(40), settled_by TEXT)",
            "CREATE INDEX difference_unsettled ON difference (found_at) WHERE settled_at IS NULL",
            "CREATE TABLE met (store VARCHAR(400) NOT NULL, about VARCHAR(40) NOT NULL, here INTEGER NOT NULL, "
            "there INTEGER NOT NULL, PRIMARY KEY (store, about))",
        ),
    ),
    Migration(
        "what doors read before, so that a call on one opens without its old calls",
        (
            "CREATE TABLE door_memory (door_id VARCHAR(40) NOT NULL PRIMARY KEY, digest VARCHAR(80) NOT NULL, "
            "calls VARCHAR(80) NOT NULL, body TEXT NOT NULL)",
        ),
    ),
    Migration(
        "what was forgotten stays forgotten",
        ("CREATE TABLE forgotten (call_id VARCHAR(40) NOT NULL PRIMARY KEY)",),
    ),
    Migration(
        "which calls have gone on since they were learnt from",
        (
            "ALTER TABLE call ADD COLUMN untold INTEGER NOT NULL DEFAULT 1",
            "CREATE INDEX call_untold ON call (id) WHERE untold = 1",
        ),
    ),
)


_NOT_ITS_OWNER = (
    "its tables are not there yet, or older than this program, and this user may not make or change tables. Let "
    "whoever owns them open the store once with this program and then run again what 'diagnose store grants' prints."
)


class NewerStore(Exception):
    """The store has steps behind it that this program does not know."""


def migrate(database: Database, migrations: Sequence[Migration] = MIGRATIONS, table: str = "migration") -> None:
    """Bring the store to the present shape; nothing is done where it has it already.

    ``table`` remembers which steps were taken: whoever keeps tables of their own in the store keeps steps of their own.
    Two programs may do so at once: each step looks again, under the write lock, whether it is still due.

    Raises:
        NewerStore: a newer program has shaped this store.
        StoreError: it cannot be read or written.
    """
    if len(_applied(database, migrations, table)) == len(migrations):
        return
    for number, migration in enumerate(migrations, start=1):
        try:
            with database.plainly(), database.connect(writes=True) as connection:
                if number > len(_names(connection, table)):
                    _apply(connection, number, migration, table)
        except (StoreError, Taken) as error:
            # Another program may have been faster; if it was, its step stands.
            if len(_applied(database, migrations, table)) < number:
                if any(sign in str(error) for sign in ("must be owner", "permission denied")):
                    raise StoreError(f"{database.where}: {_NOT_ITS_OWNER}") from None
                raise


def _applied(database: Database, migrations: Sequence[Migration], table: str) -> list[str]:
    with database.plainly(), database.connect() as connection:
        names = _names(connection, table)
    if names != [migration.name for migration in migrations][: len(names)]:
        raise NewerStore
    return names


def _names(connection: Connection, table: str) -> list[str]:
    if not connection.columns(table):
        return []
    return list(connection.execute(f"SELECT name FROM {table} ORDER BY number").scalars())


def _apply(connection: Connection, number: int, migration: Migration, table: str) -> None:
    if number == 1:
        connection.execute(
            f"CREATE TABLE {table} (number INTEGER NOT NULL PRIMARY KEY, name VARCHAR(200) NOT NULL, "
            "applied_at VARCHAR(40))"
        )
    for statement in migration.statements:
        connection.execute(statement)
    row = {"number": number, "name": migration.name, "applied_at": datetime.now(UTC).isoformat(timespec="seconds")}
    # A table that an older program made may not say when.
    columns = connection.columns(table)
    connection.insert(table, {name: value for name, value in row.items() if name in columns})
