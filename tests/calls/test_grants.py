"""What each role may do in a shop's PostgreSQL, tried as users of the database's own."""

from __future__ import annotations

import secrets
from collections.abc import Iterator

import pytest

from diagnose.calls import events as ev
from diagnose.calls.differences import Differences, differing, write
from diagnose.calls.doors import DoorRecord, Doors
from diagnose.calls.grants import RIGHTS, grants
from diagnose.calls.store import Store, StoreError
from diagnose.learning.records import Lessons
from diagnose.practice.records import Records

OPENING = ev.Opened(sequence=1, at="2026-11-25T08:00:00+00:00", site="Quay")


@pytest.fixture
def users(postgres: str) -> Iterator[dict[str, str]]:
    """The URL of a user of each role; the store has one call and one difference."""
    store = Store.open(postgres)
    Records.of(store)
    Lessons.of(store)
    store.claim("2026-11-25-bcdf")
    store.append("2026-11-25-bcdf", OPENING)
    with store._writing() as connection:
        write(connection, [differing("door", "door-b", "weight: 1", "weight: 2", "Ana")])
        schema, prefix = connection.execute("SELECT current_schema()").scalar(), f"test_{secrets.token_hex(4)}"
        connection.execute(grants(schema, prefix))
        connection.execute(grants(schema, prefix))
        for role in RIGHTS:
            connection.execute(f"CREATE ROLE {prefix}_a_{role} LOGIN; GRANT {prefix}_{role} TO {prefix}_a_{role}")
    yield {role: postgres.replace("//diagnose@", f"//{prefix}_a_{role}@") for role in RIGHTS}
    with store._writing() as connection:
        for role in RIGHTS:
            connection.execute(f"DROP OWNED BY {prefix}_{role}; DROP ROLE {prefix}_{role}; DROP ROLE {prefix}_a_{role}")
    store.close()


@pytest.mark.parametrize("role", RIGHTS)
def test_each_lists_the_calls_and_nobody_changes_an_entry(users: dict[str, str], role: str) -> None:
    store = Store.open(users[role])
    assert [each.site for each in store.calls(open_only=True)] == ["Quay"]
    assert Records.of(store).practices() == []
    for statement in (
        "UPDATE event SET body = ''",
        "DELETE FROM event",
        "DELETE FROM call",
        "DROP TABLE door_revision",
    ):
        with pytest.raises(StoreError, match=r"may not do that there|must be owner"), store._writing() as connection:
            connection.execute(statement)
    store.close()


@pytest.mark.parametrize("role", ["technician", "office"])
def test_those_who_work_add_calls_entries_and_doors(users: dict[str, str], role: str) -> None:
    store = Store.open(users[role])
    call_id = store.begin()
    store.append(call_id, OPENING)
    assert {each.id for each in store.calls()} == {call_id, "2026-11-25-bcdf"}
    doors = Doors.of(store)
    first = doors.keep(DoorRecord(site="Quay"))
    assert doors.keep(DoorRecord(site="Quay", data={"weight": "1"})).number == first.number + 1
    store.close()


def test_a_reader_adds_nothing_and_only_the_office_settles(users: dict[str, str]) -> None:
    for role in ("reader", "technician", "office"):
        store = Store.open(users[role])
        differences = Differences.of(store)
        if role == "reader":
            with pytest.raises(StoreError, match="may not do that there"):
                store.append("2026-11-25-bcdf", ev.Noted(sequence=2, at="2026-11-25T08:00:00+00:00", text="x"))
        if role == "office":
            differences.settle(differences.unsettled()[0].id, "Mia")
            assert differences.unsettled() == []
        else:
            with pytest.raises(StoreError, match="may not do that there"):
                differences.settle(differences.unsettled()[0].id, role)
        store.close()


def test_after_an_update_a_user_is_told_who_runs_the_grants_again(users: dict[str, str], postgres: str) -> None:
    owner = Store.open(postgres)
    with owner._writing() as connection:
        schema = connection.execute("SELECT current_schema()").scalar()
        user = users["technician"].partition("//")[2].partition("@")[0]
        role = user.replace("_a_technician", "_technician")
        # As grants of an older program left it: nothing said of a newer table and a newer column.
        connection.execute(f"REVOKE ALL ON {schema}.named FROM {role}; REVOKE UPDATE ON {schema}.call FROM {role}")
        connection.execute(f"GRANT UPDATE (behind) ON {schema}.call TO {role}")
    again = r"'diagnose store grants' prints how, and is run again after an update that adds tables\.$"
    store = Store.open(users["technician"])
    call_id = store.begin()
    with pytest.raises(StoreError, match=f"permission denied for table call.*{again}"):
        store.append(call_id, OPENING)
    with pytest.raises(StoreError, match=f"permission denied for table named.*{again}"), store._reading() as connection:
        connection.execute("SELECT * FROM named")
    store.close()
    # As the store is where its owner has not opened it since the update.
    for statement in ("ALTER TABLE call DROP COLUMN untold", "DROP TABLE forgotten"):
        with owner._writing() as connection:
            connection.execute(statement)
            connection.execute("DELETE FROM migration WHERE number = (SELECT max(number) FROM migration)")
        with pytest.raises(
            StoreError, match=r"Let whoever owns them open the store once .* 'diagnose store grants' prin"
        ):
            Store.open(users["technician"])
    owner.close()
    Store.open(postgres).close()
    Store.open(users["technician"]).close()


def test_every_table_has_its_rights(postgres: str) -> None:
    store = Store.open(postgres)
    Records.of(store)
    Lessons.of(store)
    text = grants()
    with store._reading() as connection:
        tables = list(
            connection.execute(
                "SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = current_schema()::regnamespace"
            ).scalars()
        )
    assert "event" in tables and all(f"ON public.{table} TO" in text for table in tables)
    store.close()
