"""What trainees did, on the disk: gone on with after a power cut, kept beside the calls, brought forward in shape."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from threading import Barrier, Thread

import msgspec
import pytest

from diagnose.calls.database import Connection, open_database
from diagnose.calls.store import Store, StoreError
from diagnose.knowledge.model import Trees
from diagnose.practice import records as recording
from diagnose.practice.acts import Enter, Finish, Look
from diagnose.practice.bots import carry_through
from diagnose.practice.desk import Desk
from diagnose.practice.drawing import draw_scenario
from diagnose.practice.library import Library
from diagnose.practice.records import Records
from diagnose.practice.scenario import Scenario
from diagnose.practice.scene import PracticeError
from diagnose.practice.simulated import planned

from .conftest import LOCKED

LAMP = Look(check="eye-lamp-receiver")
LEAVE = Finish(outcome="left out of service", reason="Enough.")


@contextmanager
def database(place: str) -> Iterator[Connection]:
    """The tables themselves, as another program would see them."""
    opened = open_database(place)
    with opened.connect(writes=True) as connection:
        yield connection
    opened.close()


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    opened = Store.open(place)
    yield opened
    opened.close()


@pytest.fixture
def desk(small_trees: Trees, library: Library, store: Store) -> Desk:
    return Desk(small_trees, library, Records.of(store), "Ana")


def test_a_practice_broken_off_goes_on_where_it_stopped(desk: Desk, scenario: Scenario, place: str) -> None:
    session = desk.begin(scenario)
    session.do(LAMP)
    session.do(Enter(energy=LOCKED))
    # Nothing is closed or said good-bye to: another program opens the store.
    other = Store.open(place)
    again = Desk(desk.trees, desk.library, Records.of(other), "ana")
    (practice,) = again.unfinished()
    resumed = again.resume(practice)
    assert resumed.done == session.done
    assert resumed.energy == LOCKED
    resumed.do(LEAVE)
    found = again.finish(resumed)
    (practice,) = again.practices()
    assert practice.result is not None
    assert practice.result.score == round(found.score.total, 2)
    assert not again.unfinished()
    other.close()


def test_an_act_is_on_the_disk_before_it_counts(desk: Desk, scenario: Scenario, place: str) -> None:
    session = desk.begin(scenario)
    session.do(LAMP)
    with database(place) as connection:
        rows = list(connection.execute("SELECT sequence, body FROM practice_act"))
    assert rows == [(1, '{"act":"look","check":"eye-lamp-receiver"}')]


def test_a_finished_practice_is_debriefed_again_alike(desk: Desk, scenario: Scenario) -> None:
    session = desk.begin(scenario)
    carry_through(session, planned)
    found = desk.finish(session)
    (practice,) = desk.practices()
    assert desk.look_back(practice).score == found.score
    open_one = desk.begin(scenario)
    assert desk.records is not None
    with pytest.raises(PracticeError, match="not finished"):
        desk.look_back(desk.records.practice(open_one.id))


def test_the_first_try_is_the_same_door_for_everybody_and_later_ones_are_others(desk: Desk, scenario: Scenario) -> None:
    first = [desk.begin(scenario).seed for _ in range(3)]
    other = Desk(desk.trees, desk.library, desk.records, "Ben")
    assert first == [0, 1, 2]
    assert other.begin(scenario).seed == 0


def test_a_drawn_scenario_is_kept_whole(desk: Desk) -> None:
    scenario = draw_scenario(desk.trees, desk.library, 5)
    desk.begin(scenario, 5)
    (practice,) = desk.practices()
    assert practice.scenario == scenario
    assert desk.resume(practice).scenario == scenario


def test_a_door_that_would_answer_otherwise_now_is_not_gone_on_with(desk: Desk, scenario: Scenario) -> None:
    desk.begin(scenario)
    (practice,) = desk.practices()
    changed = msgspec.structs.replace(desk.trees, digest="0" * 64)
    later = Desk(changed, desk.library, desk.records, "Ana")
    assert not later.unfinished()
    with pytest.raises(PracticeError, match="have changed"):
        later.resume(practice)


def test_practices_and_calls_share_a_store_and_leave_each_other_alone(
    desk: Desk, scenario: Scenario, place: str
) -> None:
    desk.begin(scenario).do(LAMP)
    store = Store.open(place)
    call_id = store.begin()
    assert store.count(call_id) == 0
    assert store.calls() == []
    assert len(Records.of(store).practices()) == 1
    store.close()


def test_a_store_that_only_knew_calls_is_brought_forward_once(place: str) -> None:
    Store.open(place).close()
    for _ in range(2):
        store = Store.open(place)
        assert Records.of(store).practices() == []
        store.close()
    with database(place) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM practice_shape ORDER BY number")]
    assert names == [shape.name for shape in recording.SHAPES]


def test_steps_that_an_older_program_noted_without_a_time_go_on(
    place: str, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    Records.of(store)
    with database(place) as connection:
        connection.execute("ALTER TABLE practice_shape DROP COLUMN applied_at")
    later = recording.Migration("one more", ("CREATE TABLE practice_more (id INTEGER)",))
    monkeypatch.setattr(recording, "SHAPES", (*recording.SHAPES, later))
    assert Records.of(store).practices() == []
    with database(place) as connection:
        steps = list(connection.execute("SELECT number, name FROM practice_shape ORDER BY number"))
        assert list(connection.execute("SELECT * FROM practice_more")) == []
    assert steps[-1] == (2, "one more")


def test_two_programs_may_bring_it_forward_at_once(place: str) -> None:
    Store.open(place).close()
    ready, wrong = Barrier(4), []

    def bring() -> None:
        store = Store.open(place)
        ready.wait()
        try:
            Records.of(store)
        except Exception as error:
            wrong.append(error)
        finally:
            store.close()

    threads = [Thread(target=bring) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong


def test_a_newer_shape_is_refused_plainly(place: str, store: Store) -> None:
    Records.of(store)
    with database(place) as connection:
        connection.execute("INSERT INTO practice_shape (number, name) VALUES (99, 'from the future')")
    with pytest.raises(StoreError, match="newer program"):
        Records.of(store)


def test_a_practice_is_found_by_part_of_its_id(desk: Desk, scenario: Scenario) -> None:
    assert desk.records is not None
    first, second = desk.begin(scenario).id, desk.begin(scenario).id
    assert desk.records.practice("last").id == second
    assert desk.records.practice(first[-6:]).id == first
    with pytest.raises(StoreError, match="could be any of"):
        desk.records.practice(first[:4])
    with pytest.raises(StoreError, match="There is no practice"):
        desk.records.practice("nothing-like-it")


def test_a_damaged_act_is_said_plainly(desk: Desk, scenario: Scenario, place: str) -> None:
    desk.begin(scenario).do(LAMP)
    with database(place) as connection:
        connection.execute('UPDATE practice_act SET body = \'{"act": "dance"}\'')
    (practice,) = desk.practices()
    with pytest.raises(StoreError, match="damaged, or newer"):
        desk.resume(practice)


def test_two_who_go_on_with_the_same_practice_cannot_both_write(desk: Desk, scenario: Scenario) -> None:
    session = desk.begin(scenario)
    (practice,) = desk.practices()
    other = desk.resume(practice)
    session.do(LAMP)
    with pytest.raises(StoreError, match="went on elsewhere"):
        other.do(LAMP)
    assert not other.done


@pytest.mark.parametrize("name", ["", "[/b] \0 Ünal", "a" * 300, "Zoë\ud800"])
def test_any_name_can_be_written_down(
    small_trees: Trees, library: Library, store: Store, scenario: Scenario, name: str
) -> None:
    desk = Desk(small_trees, library, Records.of(store), name)
    desk.begin(scenario)
    assert len(desk.practices()) == 1


def test_ids_carry_the_day(store: Store, scenario: Scenario) -> None:
    records = Records.of(store)
    moment = datetime(2031, 5, 6, 23, 30, tzinfo=UTC)
    assert records.begin_practice("Ana", scenario, 0, True, "x", moment).startswith("2031-05-06-p")
