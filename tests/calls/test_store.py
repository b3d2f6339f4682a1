"""The store: events on the disk, lists and search from them, old shapes brought forward, faults said plainly."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from threading import Barrier, Thread
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.database import Connection, Rows, default_location, open_database
from diagnose.calls.exchange import ExchangeError, export_call, import_call, merge, read_copy
from diagnose.calls.migrations import MIGRATIONS, migrate
from diagnose.calls.state import fold
from diagnose.calls.store import MovedOn, Store, StoreError, decode, encode
from diagnose.calls.verdict import leading_cause
from diagnose.knowledge.model import Trees


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    opened = Store.open(place)
    yield opened
    opened.close()


def opening(at: str = "2026-11-25T08:00:00+00:00", **fields: Any) -> ev.Opened:
    return ev.Opened(sequence=1, at=at, **fields)


def noted(sequence: int, text: str = "seen", **fields: Any) -> ev.Noted:
    fields.setdefault("at", "2026-11-25T08:00:00+00:00")
    return ev.Noted(sequence=sequence, text=text, **fields)


def kept(store: Store, *events: ev.AnyEvent) -> str:
    call_id = store.begin()
    store.append(call_id, *events)
    return call_id


# --- events ------------------------------------------------------------------------------------------------


def test_a_call_comes_back_as_it_was(store: Store, small_trees: Trees) -> None:
    call_id = store.begin()
    facts = {"devices": ("photo-eye",)}
    call = Call(small_trees, facts, ["eye-lamp-wrong"], recorder=store.recorder(call_id), by="Ana")
    call.answer("eye-volts-far-end", "22,6 V")
    call.answer("eye-lamp-receiver", "dark")
    call.note("[/x] \0 ½ 🚪 'quoted'")
    call.undo()
    events = store.events(call_id)
    assert tuple(events) == call.events
    assert Call(small_trees, history=events).state == call.state


def test_an_event_is_there_for_another_connection_as_soon_as_it_is_recorded(store: Store, place: str) -> None:
    call_id = store.begin()
    record = store.recorder(call_id)
    other = Store.open(place)
    for event in (opening(), noted(2), noted(3)):
        record(event)
        assert other.events(call_id)[-1] == event
    other.close()


def test_ids_say_their_day_and_are_not_given_twice(store: Store) -> None:
    ids = {store.begin(date(2026, 11, 25)) for _ in range(50)}
    assert len(ids) == 50
    assert all(each.startswith("2026-11-25-") and len(each) == 15 for each in ids)
    assert not store.claim(ids.pop())


def test_of_two_writers_of_one_number_the_second_is_refused_and_nothing_is_lost(store: Store, place: str) -> None:
    call_id = kept(store, opening())
    other = Store.open(place)
    other.append(call_id, noted(2, "theirs"))
    with pytest.raises(MovedOn, match="event 2 is there already"):
        store.append(call_id, noted(2, "ours"), noted(3))
    assert [event.sequence for event in store.events(call_id)] == [1, 2]
    assert store.events(call_id)[1] == noted(2, "theirs")
    other.close()


def test_writers_at_the_same_moment_each_keep_their_events(store: Store, place: str) -> None:
    """Eight threads with two stores, each with a call of its own and one that all fight over."""
    shared = kept(store, opening())
    own = [kept(store, opening()) for _ in range(8)]
    other = Store.open(place)
    gate = Barrier(8)
    won: list[int] = []

    def write(index: int) -> None:
        mine = store if index % 2 else other
        gate.wait()
        for sequence in range(2, 12):
            mine.append(own[index], noted(sequence, f"{index}"))
        try:
            mine.append(shared, noted(2, f"{index}"))
            won.append(index)
        except StoreError:
            pass

    threads = [Thread(target=write, args=(index,)) for index in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all(store.count(call_id) == 11 for call_id in own)
    assert len(won) == 1
    assert store.events(shared)[1] == noted(2, f"{won[0]}")
    other.close()


def test_no_event_can_be_kept_for_a_call_that_was_never_begun(store: Store) -> None:
    with pytest.raises(StoreError, match="no call 'nowhere'"):
        store.append("nowhere", opening())


def test_text_that_no_file_can_hold_is_refused_before_it_counts(store: Store, small_trees: Trees) -> None:
    call = Call(small_trees, recorder=store.recorder(call_id := store.begin()))
    with pytest.raises(StoreError, match="Type it again"):
        call.note("half a character: \udc80")
    assert tuple(store.events(call_id)) == call.events
    assert call.state.notes == ()


words = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
values = st.one_of(words, st.lists(st.floats(allow_nan=False, min_value=-1e9), max_size=4).map(tuple))
any_event = st.one_of(
    st.builds(
        ev.Opened,
        sequence=st.just(1),
        at=words,
        facts=st.dictionaries(words, st.one_of(words, st.lists(words, max_size=3).map(tuple)), max_size=3),
        symptoms=st.lists(words, max_size=3).map(tuple),
        site=words,
    ),
    st.builds(ev.Answered, sequence=st.integers(1, 99), at=words, by=words, check=words, raw=words, value=values),
    st.builds(ev.FactStated, sequence=st.integers(1, 99), at=words, fact=words, value=words),
    st.builds(ev.Tried, sequence=st.integers(1, 99), at=words, remedy=words, worked=st.booleans()),
    st.builds(ev.Noted, sequence=st.integers(1, 99), at=words, text=words),
    st.builds(ev.Undone, sequence=st.integers(1, 99), at=words, undoes=st.integers(1, 99)),
)


@given(any_event)
def test_every_event_reads_back_as_it_was_written(event: ev.AnyEvent) -> None:
    assert decode(encode(event)) == event


def test_a_resistance_above_the_range_survives() -> None:
    event = ev.Answered(sequence=2, at="", check="coil", raw="OL", value=(float("inf"),), unit="Ω")
    assert decode(encode(event)) == event


# --- lists and search --------------------------------------------------------------------------------------


def test_calls_are_found_by_site_door_day_cause_and_state(store: Store, small_trees: Trees) -> None:
    facts: dict[str, Any] = {"devices": ("photo-eye",)}
    north = kept(store, opening("2026-11-20T08:00:00+00:00", site="Österby Depot", door="Dock 3", facts=facts))
    south = store.begin()
    call = Call(
        small_trees,
        facts,
        ["eye-lamp-wrong"],
        site="Vale_Works 100%",
        door="Gate",
        recorder=store.recorder(south),
        clock=lambda: datetime(2026, 11, 25, 8, tzinfo=UTC),
    )
    call.answer("eye-lamp-receiver", "dark")
    call.answer("splice-looks", "green or loose")
    call.close("left out of service", "parts")
    leading = leading_cause(small_trees)

    def ids(**asked: Any) -> list[str]:
        return [each.id for each in store.calls(leading=leading, **asked)]

    assert ids() == [south, north]
    assert ids(site="öSTER") == [north]
    assert ids(site="vale_") == [south]
    assert ids(site="vale%") == []
    assert ids(door="gate") == [south]
    assert ids(since=date(2026, 11, 22)) == [south]
    assert ids(until=date(2026, 11, 22)) == [north]
    assert ids(since=datetime(2026, 11, 25, 8, tzinfo=UTC), until=datetime(2026, 11, 25, 8, tzinfo=UTC)) == [south]
    assert ids(open_only=True) == [north]
    assert ids(cause="wiring-open") == [south]
    assert ids(cause="wiring-open", site="öst") == []
    found = store.calls(site="vale")[0]
    assert (found.outcome, found.likely_cause, found.symptoms) == (
        "left out of service",
        "eye-wiring-open",
        ("eye-lamp-wrong",),
    )
    assert not found.is_open and store.calls(site="öst")[0].is_open


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="this system cannot change its zone")
def test_a_day_is_a_day_of_the_local_zone(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "UTC+5")
    time.tzset()
    try:
        late = kept(store, opening("2026-11-26T03:00:00+00:00"))  # ten in the evening of the 25th
        assert [each.id for each in store.calls(since=date(2026, 11, 25), until=date(2026, 11, 25))] == [late]
        assert store.calls(since=date(2026, 11, 26)) == []
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_summary_follows_its_events_and_can_be_made_again(store: Store) -> None:
    call_id = kept(store, opening(site="Quay"))
    assert store.calls()[0].outcome is None
    store.append(call_id, ev.Closed(sequence=2, at="2026-11-25T09:00:00+00:00", outcome="left out of service"))
    assert store.calls()[0].outcome == "left out of service"
    store.append(call_id, ev.Undone(sequence=3, at="2026-11-25T09:01:00+00:00", undoes=2))
    before = store.calls()
    assert before[0].outcome is None
    with store._writing() as connection:
        connection.execute("UPDATE summary SET site = 'wrong', site_folded = 'wrong'")
    assert store.calls(site="wrong")
    store.rebuild()
    assert store.calls() == before


def test_a_call_begun_without_an_event_is_not_listed(store: Store) -> None:
    store.begin()
    assert store.calls() == []
    with pytest.raises(StoreError, match="No call is recorded"):
        store.find("last")


def test_a_call_is_found_by_part_of_its_id(store: Store) -> None:
    first, second = kept(store, opening()), kept(store, opening())
    assert store.find(first) == first
    assert store.find(second[-4:].upper()) == second
    assert store.find("last") == second
    with pytest.raises(StoreError, match="could be any of"):
        store.find(first[:10])
    with pytest.raises(StoreError, match="Did you mean"):
        store.find(f"{first[:-1]}!")


# --- what other programs and accidents leave behind --------------------------------------------------------


def test_an_event_of_a_newer_program_is_named_and_hides_no_other_call(store: Store) -> None:
    newer, sound = kept(store, opening()), kept(store, opening(site="Quay"))
    with store._writing() as connection:
        body = '{"event":"weighed","sequence":2,"at":"2026-11-25T08:00:00+00:00"}'
        connection.execute("INSERT INTO event VALUES (:id, 2, :body)", {"id": newer, "body": body})
    store.rebuild()
    with pytest.raises(StoreError, match=f"Event 2 of call {newer} was recorded by a newer version"):
        store.events(newer)
    by_id = {each.id: each for each in store.calls()}
    assert "newer version" in by_id[newer].trouble
    assert by_id[sound].trouble == ""


def test_a_damaged_event_is_named(store: Store) -> None:
    call_id = kept(store, opening(), noted(2))
    with store._writing() as connection:
        connection.execute("UPDATE event SET body = '{\"ev' WHERE sequence = 2")
    with pytest.raises(StoreError, match=f"Event 2 of call {call_id} is damaged"):
        store.events(call_id)


def test_a_store_of_a_newer_program_is_left_alone(store: Store, place: str) -> None:
    with store._writing() as connection:
        row = {"number": len(MIGRATIONS) + 1, "name": "photographs", "at": ""}
        connection.execute("INSERT INTO migration VALUES (:number, :name, :at)", row)
    with pytest.raises(StoreError, match=r"newer version of this program\. Update"):
        Store.open(place)


@pytest.mark.parametrize("content", [b"no database, whatever it is called" * 40, b"SQLite format 3\0" + b"x" * 900])
def test_a_file_that_is_no_store_is_said_to_be_none(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "calls.sqlite3"
    file.write_bytes(content)
    with pytest.raises(StoreError, match=r"Keep it aside|Nothing was changed") as caught:
        Store.open(file)
    assert str(file) in str(caught.value)
    assert file.read_bytes() == content


def test_a_store_with_torn_pages_says_so(tmp_path: Path) -> None:
    file = tmp_path / "calls.sqlite3"
    store = Store.open(file)
    call_id = kept(store, opening(), *(noted(n, "x" * 500) for n in range(2, 60)))
    store.close()
    content = bytearray(file.read_bytes())
    content[4096:] = b"\x5a" * (len(content) - 4096)
    file.write_bytes(content)
    with pytest.raises(StoreError, match="damaged"):
        Store.open(file).events(call_id)


def test_a_place_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="Give another place"):
        Store.open(tmp_path / "file" / "calls.sqlite3")
    with pytest.raises(StoreError, match=r"[Gg]ive another place"):
        Store.open(tmp_path)
    with pytest.raises(StoreError, match="no place for a store"):
        Store.open("nonsense://somewhere")


def test_a_busy_store_is_waited_for_and_then_said_to_be_busy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.calls.database._BUSY_SECONDS", 0.05)
    file = tmp_path / "calls.sqlite3"
    store = Store.open(file)
    call_id = kept(store, opening())
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreError, match="Another program is writing"):
        store.append(call_id, noted(2))
    assert store.events(call_id) == [opening()], "reading goes on beside a writer"
    other.execute("ROLLBACK")
    store.append(call_id, noted(2))
    other.close()
    store.close()


@pytest.mark.parametrize("address", ["ana:secret@localhost:1/calls", "localhost:1/calls?user=ana&password=secret"])
def test_a_password_in_an_address_is_refused_and_not_shown(address: str) -> None:
    with pytest.raises(StoreError, match="pgpass") as caught:
        Store.open(f"postgresql://{address}")
    assert "secret" not in str(caught.value)


def test_a_server_that_is_not_there_is_said_to_be_none() -> None:
    with pytest.raises(StoreError, match=r"^postgresql://ana@127\.0\.0\.1:1/calls: .*Look at the network"):
        Store.open("postgresql://ana@127.0.0.1:1/calls")


def test_an_event_whose_receipt_was_lost_is_not_written_twice(store: Store) -> None:
    call_id = kept(store, opening())
    store.append(call_id, noted(2))
    store.append(call_id, noted(2))
    assert store.events(call_id) == [opening(), noted(2)]


def test_a_connection_cut_in_the_middle_of_writing_is_made_again(
    postgres: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    store, other = Store.open(postgres), Store.open(postgres)
    call_id = kept(store, opening())
    cut: list[int] = []
    execute = Connection.execute

    def cutting(connection: Connection, statement: str, *values: Any) -> Rows:
        if "INSERT INTO event" in statement and not cut:
            cut.append(execute(connection, "SELECT pg_backend_pid()").scalar())
            with other._reading() as beside:
                assert execute(beside, "SELECT pg_terminate_backend(:pid, 5000)", {"pid": cut[0]}).scalar()
        return execute(connection, statement, *values)

    monkeypatch.setattr(Connection, "execute", cutting)
    store.append(call_id, noted(2))
    assert cut and store.events(call_id) == [opening(), noted(2)]
    store.close()
    other.close()


def test_sqlite_keeps_its_promises(tmp_path: Path) -> None:
    store = Store.open(tmp_path / "calls.sqlite3")
    with store._reading() as connection:
        names = ("journal_mode", "synchronous", "foreign_keys")
        found = {name: connection.execute(f"PRAGMA {name}").scalar() for name in names}
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}
    store.close()


def test_the_usual_place_is_used_unless_another_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_STORE", str(tmp_path / "named.sqlite3"))
    store = Store.open()
    assert store.where == str(tmp_path / "named.sqlite3")
    store.close()
    assert default_location().name == "calls.sqlite3"


# --- older shapes ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", range(len(MIGRATIONS)))
def test_a_store_of_any_older_shape_is_brought_forward_with_its_calls(place: str, shape: int) -> None:
    database = open_database(place)
    if shape:
        migrate(database, MIGRATIONS[:shape])
        with database.connect(writes=True) as connection:
            call = "INSERT INTO call (id, begun_at) VALUES ('2026-11-01-aaaa', '2026-11-01T08:00:00+00:00')"
            connection.execute(call)
            insert = "INSERT INTO event VALUES ('2026-11-01-aaaa', 1, :body)"
            connection.execute(insert, {"body": encode(opening(site="Old"))})
    database.close()
    store = Store.open(place)
    assert [each.site for each in store.calls()] == (["Old"] if shape else [])
    with store._reading() as connection:
        names = list(connection.execute("SELECT name FROM migration ORDER BY number").scalars())
    assert names == [migration.name for migration in MIGRATIONS]
    assert len(set(names)) == len(names)
    store.close()


def test_a_step_that_fails_half_way_leaves_nothing_behind(place: str) -> None:
    from diagnose.calls.migrations import Migration

    Store.open(place).close()
    store = Store.open(place)
    broken = (*MIGRATIONS, Migration("broken", ("CREATE TABLE half (id INTEGER)", "CREATE TABLE call (id INTEGER)")))
    with pytest.raises(StoreError, match="exists"):
        migrate(store._database, broken)
    with store._reading() as connection:
        assert not connection.columns("half")
    store.close()
    Store.open(place).close()


def test_programs_that_open_a_new_store_at_once_all_succeed(place: str) -> None:
    faults: list[Exception] = []
    gate = Barrier(6)

    def open_it() -> None:
        gate.wait()
        try:
            Store.open(place).close()
        except Exception as error:
            faults.append(error)

    threads = [Thread(target=open_it) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []


# --- a call as one file ------------------------------------------------------------------------------------


@pytest.fixture
def two(tmp_path: Path) -> Iterator[tuple[Store, Store]]:
    here, there = Store.open(tmp_path / "here.sqlite3"), Store.open(tmp_path / "there.sqlite3")
    yield here, there
    here.close()
    there.close()


def stamped(store: Store, call_id: str, trees: Trees, by: str, hour: int) -> Call:
    """The call gone on with by somebody, a minute for each entry."""
    moments = (datetime(2026, 11, 25, hour, tzinfo=UTC) + timedelta(minutes=n) for n in range(500))
    history = store.events(call_id) if store.count(call_id) else None
    return Call(
        trees,
        {"devices": ("photo-eye",)},
        ["eye-lamp-wrong"],
        history=history,
        recorder=store.recorder(call_id),
        by=by,
        clock=lambda: next(moments),
    )


def test_a_call_goes_to_another_store_whole_and_only_once(two: tuple[Store, Store], small_trees: Trees) -> None:
    here, there = two
    call_id = here.begin()
    stamped(here, call_id, small_trees, "Ana", 8).answer("eye-lamp-receiver", "dark")
    copy = read_copy(export_call(here, call_id))
    assert import_call(there, copy).kind == "new"
    assert there.events(call_id) == here.events(call_id)
    assert import_call(there, copy).kind == "nothing new"
    stamped(here, call_id, small_trees, "Ana", 9).note("went on")
    arrival = import_call(there, read_copy(export_call(here, call_id)))
    assert (arrival.kind, arrival.added) == ("continued", 1)
    assert there.events(call_id) == here.events(call_id)


def test_copies_that_went_different_ways_keep_both_and_say_where_they_differ(
    two: tuple[Store, Store], small_trees: Trees
) -> None:
    here, there = two
    call_id = here.begin()
    stamped(here, call_id, small_trees, "Ana", 8).answer("eye-lamp-receiver", "dark")
    import_call(there, read_copy(export_call(here, call_id)))
    ours = stamped(here, call_id, small_trees, "Ana", 9)
    ours.answer("lens-clean", "clean")
    ours.note("ours")
    theirs = stamped(there, call_id, small_trees, "Ben", 10)
    theirs.answer("lens-clean", "dirty or wet")
    theirs.note("a slip")
    theirs.undo()
    theirs.answer("impact", "no sign")
    arrival = import_call(here, read_copy(export_call(there, call_id)), by="Ana")
    assert arrival.kind == "merged"
    assert [(d.here.value, d.there.value) for d in arrival.differences] == [("clean", "dirty or wet")]  # type: ignore[union-attr]
    state = fold(here.events(call_id))
    assert {name: answer.value for name, answer in state.answers.items()} == {
        "eye-lamp-receiver": "dark",
        "lens-clean": "clean",
        "impact": "no sign",
    }
    assert [text for _, text in state.notes] == ["ours"]
    merged = here.events(call_id)
    assert merged[: len(ours.events)] == list(ours.events), "nothing that was here is renumbered"
    written = [(e.by, e.value) for e in merged if isinstance(e, ev.Answered) and e.check == "lens-clean"]
    assert written == [("Ana", "clean"), ("Ben", "dirty or wet")], "both words are in the history"

    back = import_call(there, read_copy(export_call(here, call_id)))
    assert back.kind == "continued"
    assert fold(there.events(call_id)).answers["lens-clean"].value == "clean", "both copies now say the same"
    assert import_call(here, read_copy(export_call(there, call_id))).kind == "nothing new"


@given(st.data())
def test_a_merge_loses_nothing_and_a_second_one_adds_nothing(data: st.DataObject) -> None:
    def tail(by: str, start: int) -> list[ev.AnyEvent]:
        events: list[ev.AnyEvent] = []
        for sequence in range(start, start + data.draw(st.integers(0, 5))):
            at = f"2026-11-25T0{data.draw(st.integers(0, 2))}:00:00+00:00"
            kind = data.draw(st.sampled_from(["note", "answer", "undo", "fact"]))
            if kind == "note":
                events.append(ev.Noted(sequence=sequence, at=at, by=by, text=data.draw(st.sampled_from("ab"))))
            elif kind == "fact":
                value = data.draw(st.sampled_from("ab"))
                events.append(ev.FactStated(sequence=sequence, at=at, by=by, fact="f", value=value))
            elif kind == "undo" and sequence > 2:
                undoes = data.draw(st.integers(2, sequence - 1))
                events.append(ev.Undone(sequence=sequence, at=at, by=by, undoes=undoes))
            else:
                check = data.draw(st.sampled_from(["c", "d"]))
                events.append(ev.Answered(sequence=sequence, at=at, by=by, check=check, raw=by, value=by))
        return events

    shared: list[ev.AnyEvent] = [opening(), *tail("shared", 2)]
    ours = [*shared, *tail("ours", len(shared) + 1)]
    theirs = [*shared, *tail("theirs", len(shared) + 1)]
    added, _, _ = merge(ours, theirs)
    merged = [*ours, *added]
    assert [event.sequence for event in merged] == list(range(1, len(merged) + 1))
    marks = [(type(event), event.at, event.by) for event in merged]
    for event in theirs:
        marks.remove((type(event), event.at, event.by))
    for answer in fold(ours).answers.values():
        if answer.by == "ours":
            assert fold(merged).answers[answer.check] == answer
    assert merge(merged, theirs)[0] == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is no call"),
        ("[1, 2]", "is no call"),
        ('{"a": 1}', "is no call"),
        ("[" * 100_000, "is no call"),
        ('{"diagnose call": 2}', "newer version"),
        ('{"diagnose call": 1, "id": "../../x", "events": []}', "no proper id"),
        ('{"diagnose call": 1, "id": "2026-11-25-aaaa", "events": []}', "no events"),
        ('{"diagnose call": 1, "id": "2026-11-25-aaaa", "events": [{"event": "burnt"}]}', "Event 1 .* cannot be read"),
        ('{"diagnose call": 1, "id": "2026-11-25-aaaa", "events": [7]}', "Event 1 .* cannot be read"),
        (
            '{"diagnose call": 1, "id": "2026-11-25-aaaa", "events": '
            '[{"event": "noted", "sequence": 1, "at": "2026-11-25T08:00:00+00:00", "text": ""}]}',
            "begin with its opening",
        ),
        (
            '{"diagnose call": 1, "id": "2026-11-25-aaaa", "events": '
            '[{"event": "opened", "sequence": 2, "at": "2026-11-25T08:00:00+00:00"}]}',
            "does not fit",
        ),
        (
            '{"diagnose call": 1, "id": "2026-11-25-aaaa", "events": '
            '[{"event": "opened", "sequence": 1, "at": "noon"}]}',
            "does not fit",
        ),
    ],
)
def test_a_file_that_is_no_call_is_refused(text: str, said: str) -> None:
    with pytest.raises(ExchangeError, match=said):
        read_copy(text)


def test_another_call_of_the_same_name_is_not_mixed_in(two: tuple[Store, Store]) -> None:
    here, there = two
    call_id = here.begin()
    there.claim(call_id)
    here.append(call_id, opening(site="Quay"))
    there.append(call_id, opening(site="Mill"))
    with pytest.raises(StoreError, match="Another call"):
        import_call(here, read_copy(export_call(there, call_id)))
