"""What a closed call tells: rows made from its events alone, kept in the store, and made again to the same."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path

import msgspec
import pytest
import sqlalchemy as sql

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.store import Store, StoreError
from diagnose.knowledge.distributions import Beyond, Mixture, Normal
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.learning.lessons import Lesson, PartRow, Replay, lesson, period_of, quarter
from diagnose.learning.records import OUTCOME, SAME_FAULT_DAYS, SHAPES, TALLIED, TALLY, Lessons
from tests.learning.shops import BEGUN, Timed, close, shop

FACTS = {"devices": ("photo-eye",), "drive": "trolley"}
POSTGRES = os.environ.get("DIAGNOSE_TEST_POSTGRES", "")


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    place = str(tmp_path / "calls.sqlite3")
    if request.param == "postgresql":
        if not POSTGRES:
            pytest.skip("DIAGNOSE_TEST_POSTGRES names no database")
        place = POSTGRES
        engine = sql.create_engine(POSTGRES.replace("postgresql://", "postgresql+psycopg://"))
        with engine.begin() as connection:
            connection.execute(sql.text("DROP SCHEMA public CASCADE"))
            connection.execute(sql.text("CREATE SCHEMA public"))
        engine.dispose()
    opened = Store.open(place)
    yield opened
    opened.close()


def begun(trees: Trees, clock: Timed | None = None) -> Call:
    return Call(trees, FACTS, ["eye-lamp-wrong"], clock=clock or Timed(BEGUN), site="Kiln Yard", door="3")


def ended(call: Call, remedy: str, worked: bool = True) -> Call:
    call.tried(remedy, worked)
    for proof in call.open_proofs():
        if proof.energy not in ("any", call.energy):
            call.enter(proof.energy)
        if proof.who not in call.state.people:
            call.state_people((*call.state.people, proof.who))
        call.proved(proof.id, True)
    close(call, worked)
    return call


def told(call: Call) -> Lesson:
    found = lesson(call.trees, "c1", call.events)
    assert found is not None
    return found


def test_an_open_call_tells_nothing(small_trees: Trees) -> None:
    assert lesson(small_trees, "c1", begun(small_trees).events) is None


def test_a_cause_found_by_a_remedy_of_its_own_has_all_of_the_call(small_trees: Trees) -> None:
    call = begun(small_trees)
    call.answer("eye-lamp-receiver", "dark")
    row = told(ended(call, "remake-splice")).outcome
    assert (row.confirmed, row.cause, row.share, row.remedy) == (1, "eye-wiring-open", 1.0, "remake-splice")
    assert row.site == "Kiln Yard" and row.complaint == "eye-lamp-wrong" and row.result == "returned to service"
    assert row.promised is not None and row.low is not None and row.low < row.promised


def test_a_remedy_of_several_causes_shares_the_call_among_them(small_trees: Trees) -> None:
    dead = small_trees.causes["eye-dead"]
    both = {**small_trees.causes, "eye-dead": msgspec.structs.replace(dead, remedies={"remake-splice": 0.5})}
    trees = msgspec.structs.replace(small_trees, causes=both, digest="shared")
    call = begun(trees)
    call.answer("eye-lamp-receiver", "dark")
    before = {each.cause: each.probability for each in call.likely()}
    found = told(ended(call, "remake-splice"))
    shares = {row.cause: row.share for row in found.causes}
    splice = before["eye-wiring-open"] * trees.causes["eye-wiring-open"].remedies["remake-splice"]
    other = before["eye-dead"] * 0.5
    assert shares == pytest.approx({"eye-wiring-open": splice / (splice + other), "eye-dead": other / (splice + other)})
    assert {row.cause for row in found.findings} == {"eye-wiring-open", "eye-dead"}


@pytest.mark.parametrize("earlier", ["worked in part", "left out"])
def test_what_was_not_proved_by_one_remedy_alone_is_not_confirmed(small_trees: Trees, earlier: str) -> None:
    call = begun(small_trees)
    call.answer("eye-lamp-receiver", "dark")
    if earlier == "worked in part":
        call.done("clean-lenses")
        call.judge({"eye-lamp-wrong": "better"})
        row = told(ended(call, "remake-splice")).outcome
    else:
        call.tried("remake-splice", worked=False)
        close(call, False)
        row = told(call).outcome
    assert row.confirmed == 0 and not told(call).causes


def test_a_repair_that_no_suspect_needs_is_a_cause_in_no_tree(small_trees: Trees) -> None:
    odd = msgspec.structs.replace(small_trees.remedies["remake-splice"], id="odd-job")
    trees = msgspec.structs.replace(small_trees, remedies={**small_trees.remedies, "odd-job": odd}, digest="odd")
    row = told(ended(begun(trees), "odd-job")).outcome
    assert (row.confirmed, row.cause) == (0, UNLISTED)


def test_only_the_first_look_counts_and_what_was_volunteered_is_told_apart(small_trees: Trees) -> None:
    call = begun(small_trees)
    asked = call.next_step()
    assert asked.kind == "check" and asked.id != "splice-looks"
    call.answer("splice-looks", "green or loose")
    call.answer("eye-lamp-receiver", "blinking")
    call.answer("eye-lamp-receiver", "dark", mode="again")
    call.answer("eye-lamp-transmitter", "dark")
    call.answer("eye-lamp-transmitter", "steady", mode="correction")
    rows = {row.check_id: row for row in told(ended(call, "remake-splice")).findings}
    assert rows["eye-lamp-receiver"].answer == "blinking"
    assert rows["eye-lamp-transmitter"].answer == "steady"
    assert rows["splice-looks"].chosen == 0


def test_what_was_chosen_is_what_was_put(small_trees: Trees) -> None:
    call = begun(small_trees)
    step = call.next_step()
    while step.kind == "energy":
        call.enter(step.id)
        step = call.next_step()
    check = small_trees.checks[step.id]
    call.answer(step.id, check.answers[0] if check.answers else "1 V")
    assert [row.chosen for row in told(ended(call, "remake-splice")).findings] == [1]


def test_what_was_put_is_taken_down_and_comes_to_the_same_where_it_was_not(small_trees: Trees) -> None:
    call = begun(small_trees)
    while (step := call.next_step()).kind in ("check", "energy"):
        if step.kind == "energy":
            call.enter(step.id)
            continue
        if not call.state.answers:
            call.answer("splice-looks", "green or loose")
            call.next_step()
        check = small_trees.checks[step.id]
        call.answer(step.id, check.answers[0] if check.answers else "1 V")
    answers = [event for event in call.events if isinstance(event, ev.Answered)]
    assert [event.put for event in answers] == [False, *[True] * (len(answers) - 1)] and len(answers) > 1
    history = ended(call, "remake-splice").events
    unsaid = [msgspec.structs.replace(e, put=None) if isinstance(e, ev.Answered) else e for e in history]
    assert lesson(small_trees, "c1", history) == lesson(small_trees, "c1", unsaid)
    turned = [msgspec.structs.replace(e, put=not e.put) if isinstance(e, ev.Answered) else e for e in history]
    found, other = (lesson(small_trees, "c1", each) for each in (history, turned))
    assert found is not None and other is not None
    assert [row.chosen for row in found.findings] != [row.chosen for row in other.findings], "it is what counts"


def test_calls_gone_through_together_tell_what_each_tells_alone(
    small_trees: Trees, some_calls: list[tuple[ev.AnyEvent, ...]]
) -> None:
    replay = Replay(small_trees)
    for events in some_calls:
        assert lesson(small_trees, "c1", events, replay) == lesson(small_trees, "c1", events)
    assert replay.present(some_calls[0]) is replay.present(some_calls[0])
    assert replay.step(some_calls[0][:1]) is replay.step([*some_calls[0][:1]])


def test_what_a_caller_said_and_what_came_after_the_repair_is_no_finding(small_trees: Trees) -> None:
    call = begun(small_trees)
    call.answer("eye-lamp-receiver", "dark", heard="told")
    call.tried("remake-splice", worked=True)
    call.answer("eye-lamp-transmitter", "steady")
    close(call, False)
    assert "eye-lamp-receiver" not in {row.check_id for row in told(call).findings}


def test_pauses_are_no_work_and_a_second_visit_is_seen(small_trees: Trees) -> None:
    clock = Timed(BEGUN)
    call = begun(small_trees, clock)
    call.answer("eye-lamp-receiver", "dark")
    clock.now += timedelta(days=1)
    call.answer("eye-lamp-transmitter", "steady")
    row = told(ended(call, "remake-splice")).outcome
    assert row.visits == 2
    assert row.took is not None and row.took < 60


def test_what_the_van_carried_and_what_was_not_there_is_told(small_trees: Trees) -> None:
    (part,) = small_trees.remedies["remake-splice"].parts
    count = small_trees.remedies["remake-splice"].parts[part]
    call = begun(small_trees)
    call.state_people(("anyone", "technician"), load={part: 5})
    call.answer("eye-lamp-receiver", "dark")
    call.put_off("remedy", "remake-splice", [part])
    call.undo()
    slip = Call(small_trees, history=call.events, clock=Timed(BEGUN))
    assert told(ended(slip, "remake-splice")).parts == (PartRow("c1", part, 5, 0),)
    call.put_off("remedy", "remake-splice", [part])
    call.put_off("remedy", "remake-splice", [part])
    call.state_people(("anyone", "technician", "electrician"))
    fetched = told(ended(call, "remake-splice"))
    assert fetched.parts == (PartRow("c1", part, 5, count),)
    assert not call.state.missing
    assert told(ended(begun(small_trees), "remake-splice")).parts == ()


def test_quarters_of_a_spread_are_met_evenly_and_overload_stands_for_itself(small_trees: Trees) -> None:
    check = small_trees.checks["eye-volts-far-end"]
    bell = Normal(24.0, 1.0)
    assert [quarter(bell, check, value) for value in (20.0, 23.5, 24.5, 28.0)] == ["1", "2", "3", "4"]
    half = Mixture(((0.5, bell), (0.5, Beyond())))
    assert quarter(half, check, float("inf")) == "over"
    assert quarter(half, check, 24.5) == "3"


def test_periods_are_quarters_of_a_year() -> None:
    days = [datetime(2031, month, 1).date() for month in (1, 3, 4, 12)]
    first = period_of(days[0])
    assert [period_of(day) - first for day in days] == [0, 0, 1, 3]


# --- kept beside the events ----------------------------------------------------------------------------------


def put(store: Store, *calls: tuple[object, ...]) -> list[str]:
    names = []
    for events in calls:
        names.append(store.begin())
        store.append(names[-1], *events)  # type: ignore[arg-type]
    return names


@pytest.fixture(scope="module")
def some_calls() -> list[tuple[object, ...]]:
    from diagnose.knowledge.load import load_trees

    trees = load_trees(Path(__file__).parents[1] / "small_trees", cache=False)
    return [tuple(events) for events in shop(trees, trees, ["eye-lamp-wrong"], 6, 7)]


def test_rows_made_again_are_those_that_were_kept(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    lessons = Lessons.of(store)
    for events in some_calls:
        put(store, events)
        lessons.catch_up(small_trees)
    kept = lessons.kept_rows()
    assert len(kept["outcome"]) == len(some_calls) and kept["finding"] and kept["trial"] and kept["found"]
    lessons.rebuild()
    assert not any(lessons.kept_rows().values())
    lessons.catch_up(small_trees)
    assert lessons.kept_rows() == kept
    assert lessons.catch_up(small_trees) == 0


def test_an_open_call_is_read_again_only_where_it_went_on(store: Store, small_trees: Trees) -> None:
    lessons = Lessons.of(store)
    call = begun(small_trees)
    (name,) = put(store, call.events)
    assert [lessons.catch_up(small_trees) for _ in range(2)] == [1, 0]
    call = Call(small_trees, history=call.events, recorder=store.recorder(name))
    told, read = lesson(small_trees, name, call.events), len(call.events)
    call.note("Rain since Monday.")
    lessons.keep(name, told, read)
    assert lessons.behind() == [name], "what came in while it was read is for the next time"
    assert [lessons.catch_up(small_trees) for _ in range(2)] == [1, 0]


def test_a_call_that_goes_on_is_told_anew(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    lessons = Lessons.of(store)
    (name,) = put(store, some_calls[0])
    lessons.catch_up(small_trees)
    call = Call(small_trees, history=store.events(name), recorder=store.recorder(name))
    call.reopen("It is back.")
    lessons.catch_up(small_trees)
    assert not lessons.kept_rows()["outcome"] and not lessons.kept_rows()["finding"]
    close(call, False)
    lessons.catch_up(small_trees)
    assert [row[0] for row in lessons.kept_rows()["outcome"]] == [name]


def left_and_put_right(trees: Trees, days: int = 3, complaint: str = "eye-lamp-wrong") -> list[Call]:
    """A call that was left to somebody else, and the one that put the door right some days later."""
    left = begun(trees)
    left.next_step()
    left.answer("eye-lamp-receiver", "dark")
    left.tried("clean-lenses", worked=False)
    close(left, False)
    clock = Timed(BEGUN + timedelta(days=days))
    right = Call(trees, FACTS, [complaint], clock=clock, site="Kiln Yard", door="3")
    right.next_step()
    right.answer("eye-lamp-receiver", "blinking")
    return [left, ended(right, "remake-splice")]


def seen_under(lessons: Lessons, cause: str) -> dict[str, float]:
    counts = lessons.counts({}).answers
    return {each.answer: each.weighted for each in counts if (each.cause, each.check) == (cause, "eye-lamp-receiver")}


def test_what_was_found_before_a_door_was_left_counts_for_the_cause_that_was_proved_later(
    store: Store, small_trees: Trees
) -> None:
    lessons, (left, right) = Lessons.of(store), left_and_put_right(small_trees)
    names = put(store, left.events)
    lessons.catch_up(small_trees)
    assert seen_under(lessons, "eye-wiring-open") == {}
    names += put(store, right.events)
    lessons.catch_up(small_trees)
    assert seen_under(lessons, "eye-wiring-open") == {"dark": 1.0, "blinking": 1.0}
    told = {row[0]: row[-1] for row in lessons.kept_rows()["outcome"]}
    assert told == {names[0]: names[1], names[1]: ""}
    assert sum(lessons.counts({}).causes.values()) == 1.0, "the fault was there once"
    kept = lessons.kept_rows()
    lessons.rebuild()
    lessons.catch_up(small_trees)
    assert lessons.kept_rows() == kept and lessons.behind() == []


@pytest.mark.parametrize("how", ["forgotten", "opened again"])
def test_a_cause_that_is_no_longer_proved_tells_nothing_of_the_earlier_call(
    store: Store, small_trees: Trees, how: str
) -> None:
    lessons, (left, right) = Lessons.of(store), left_and_put_right(small_trees)
    names = put(store, left.events, right.events)
    lessons.catch_up(small_trees)
    assert seen_under(lessons, "eye-wiring-open")
    if how == "forgotten":
        store.forget(names[1:])
    else:
        Call(small_trees, history=right.events, recorder=store.recorder(names[1])).reopen("It is back.")
    lessons.catch_up(small_trees)
    assert seen_under(lessons, "eye-wiring-open") == {} and lessons.behind() == []
    assert [row[-1] for row in lessons.kept_rows()["outcome"]] == [""]


@pytest.mark.parametrize("why", ["the same day", "long after", "another complaint"])
def test_what_may_have_been_another_fault_tells_nothing_of_the_earlier_call(
    store: Store, small_trees: Trees, why: str
) -> None:
    days = {"the same day": 0, "long after": SAME_FAULT_DAYS + 1}.get(why, 3)
    other = msgspec.structs.replace(small_trees.symptoms["eye-lamp-wrong"], id="other")
    trees = msgspec.structs.replace(small_trees, symptoms={**small_trees.symptoms, "other": other}, digest="two")
    calls = left_and_put_right(trees, days, "other" if why == "another complaint" else "eye-lamp-wrong")
    put(store, *(call.events for call in calls))
    lessons = Lessons.of(store)
    lessons.catch_up(trees)
    assert lessons.counts({}).causes, "the later call has a cause to its name"
    assert {row[-1] for row in lessons.kept_rows()["outcome"]} == {""}


def test_calls_of_an_older_store_are_told_too(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    put(store, *some_calls[:2])
    with store._reading() as connection:
        assert not connection.columns("outcome")
    assert Lessons.of(store).catch_up(small_trees) == 2
    assert len(Lessons.of(store).kept_rows()["outcome"]) == 2


def test_a_call_that_cannot_be_read_hides_no_other(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    names = put(store, *some_calls[:2])
    with store._writing() as connection:
        connection.execute(f"UPDATE event SET body = '[' WHERE call_id = '{names[0]}' AND sequence = 2")
    lessons = Lessons.of(store)
    lessons.catch_up(small_trees)
    assert [row[0] for row in lessons.kept_rows()["outcome"]] == [names[1]]


def test_rows_of_a_newer_program_are_left_alone(store: Store) -> None:
    Lessons.of(store)
    with store._writing() as connection:
        later = f"INSERT INTO lesson_shape (number, name) VALUES ({len(SHAPES) + 1}, 'later')"
        connection.execute(later)
    with pytest.raises(StoreError, match="newer program"):
        Lessons.of(store)


def test_rows_that_another_program_made_meanwhile_stand(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two look which calls are behind before either has written: who comes second keeps what the first made."""
    put(store, *some_calls[:1])
    one, other = Lessons.of(store), Lessons.of(store)
    keep = other.keep

    def late(call_id: str, told: Lesson | None, read: int) -> None:
        one.catch_up(small_trees)
        keep(call_id, told, read)

    monkeypatch.setattr(other, "keep", late)
    other.catch_up(small_trees)
    assert len(one.kept_rows()["outcome"]) == 1 and one.catch_up(small_trees) == 0


def test_a_call_that_is_forgotten_takes_its_rows_along(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    names = put(store, *some_calls[:2])
    lessons = Lessons.of(store)
    lessons.catch_up(small_trees)
    store.forget(names[:1])
    kept = lessons.kept_rows()
    assert {row[0] for name in ("outcome", "found", "finding", "trial") for row in kept[name]} == {names[1]}


def test_a_quarter_is_counted_again_where_a_call_of_it_changed_and_only_there(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    lessons = Lessons.of(store)
    names = put(store, *some_calls[:4])

    def seen() -> dict[tuple[str, ...], float]:
        lessons.catch_up(small_trees)
        return {(each.cause, each.check, each.answer): round(each.weighted, 9) for each in lessons.counts({}).answers}

    def anew() -> dict[tuple[str, ...], float]:
        lessons.rebuild()
        return seen()

    lessons.catch_up(small_trees)
    assert lessons.tally() == 0  # what is kept for the first time is added up with that
    assert seen() == anew() != {}
    names += put(store, some_calls[4])
    lessons.catch_up(small_trees)
    assert lessons.tally() == 0
    assert seen() == anew()
    call = Call(small_trees, history=store.events(names[0]), recorder=store.recorder(names[0]))
    call.reopen("It is back.")
    before = seen()
    assert before == anew()
    store.forget(names[1:2])
    assert lessons.tally() == 1
    assert before != seen() == anew()
    store.forget([names[0], *names[2:]])
    assert lessons.tally() == 1 and seen() == {}


def test_what_is_added_up_as_calls_are_kept_is_what_a_count_anew_finds(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    lessons = Lessons.of(store)
    put(store, *some_calls)
    lessons.catch_up(small_trees)

    added = sorted(lessons.rows(sql.select(TALLY)))
    with store._writing() as connection:
        connection.execute(TALLIED.delete())
    assert lessons.tally() > 0
    assert added and [pytest.approx(row) for row in added] == sorted(lessons.rows(sql.select(TALLY)))


def test_two_programs_that_keep_calls_of_one_quarter_add_both(
    store: Store, small_trees: Trees, some_calls: list[tuple[object, ...]]
) -> None:
    put(store, *some_calls)
    told = {name: lesson(small_trees, name, store.events(name)) for name in Lessons.of(store).behind()}
    programs = [Lessons.of(store), Lessons.of(store)]
    with ThreadPoolExecutor(2) as pool:
        made = [pool.submit(programs[number % 2].keep, *each) for number, each in enumerate(told.items())]
        counting = pool.submit(programs[0].tally)
    assert not any(each.exception() for each in (*made, counting))
    added = programs[1].counts({}).answers
    programs[0].rebuild()
    programs[0].catch_up(small_trees)
    assert [each.weighted for each in added] == pytest.approx(
        [each.weighted for each in programs[0].counts({}).answers]
    )


def test_rows_of_before_are_counted_alike_under_numbers(store: Store) -> None:
    store._bring(SHAPES[:3], "lesson_shape", "it was")
    store.claim("c1")
    outcome = {**dict.fromkeys(OUTCOME.c.keys(), 0), "call_id": "c1", "sequence": 9, "period": 8125, "cause": "worn"}
    del outcome["told_by"]
    texts = [column.name for column in OUTCOME.c if isinstance(column.type, sql.Text)]
    with store._writing() as connection:
        connection.execute(OUTCOME.insert(), {name: str(v) if name in texts else v for name, v in outcome.items()})
        for number, (answer, share) in enumerate([("dark", 1.0), ("dark", 0.5), ("steady", 1.0)], start=1):
            values = f"('c1', {number}, 'lamp', 'worn', '{answer}', {share}, 0, 8125, NULL, NULL, 1, 0.1, 2.0)"
            connection.execute(f"INSERT INTO finding VALUES {values}")
    lessons = Lessons.of(store)
    counts = lessons.counts({})
    assert {(each.cause, each.check, each.answer): each.weighted for each in counts.answers} == {
        ("worn", "lamp", "dark"): 1.5,
        ("worn", "lamp", "steady"): 1.0,
    }
    assert counts.check_minutes == {"lamp": (3, 6.0)} and len(lessons.kept_rows()["finding"]) == 3
