"""What leaves the machine without names, and what is forgotten."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import get_args

import pytest
from msgspec.structs import fields

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.document import text_of
from diagnose.calls.doors import DoorRecord, Doors, forget, to_forget, without_names
from diagnose.calls.exchange import export_call, import_call, read_copy
from diagnose.calls.nameless import FREE, LEFT_OUT, nameless
from diagnose.calls.report import record
from diagnose.calls.store import Store
from diagnose.cli import main
from diagnose.knowledge.model import Trees
from diagnose.settings import SettingsError, change_settings, load_settings

# What is an entry of the trees, a choice, a number or a day: all else has to be decided in `FREE`.
KEPT = {
    "sequence",
    "told",
    "put",
    "at",
    "digest",
    "facts",
    "symptoms",
    "people",
    "load",
    "walk",
    "fact",
    "value",
    "became",
    "check",
    "unit",
    "mode",
    "heard",
    "energy",
    "goal_kind",
    "goal",
    "remedy",
    "worked",
    "outcomes",
    "proof",
    "passed",
    "job",
    "came",
    "kind",
    "step",
    "missing",
    "danger",
    "answer",
    "readings",
    "lines",
    "undoes",
    "outcome",
}
SECRETS = ("Zebulon", "Quince Yard", "Hatch Nine", "555-0142", "orchardnet", "Marigold")


def test_each_field_of_an_event_is_left_out_or_kept_on_purpose() -> None:
    assert not FREE & KEPT
    for kind in get_args(ev.AnyEvent):
        assert {field.name for field in fields(kind)} <= FREE | KEPT, kind.__name__


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store.open(tmp_path / "calls.sqlite3")


def spoken(trees: Trees, store: Store, at: datetime | None = None) -> str:
    """A call in which every field that can be typed freely holds a name, a place or a number."""
    named = store.begin()
    call = Call(
        trees,
        {"drive": "trolley", "devices": ("photo-eye",)},
        ["will-not-close-on-timer"],
        site="Quince Yard",
        door="Hatch Nine",
        by="Zebulon",
        recorder=store.recorder(named),
        clock=None if at is None else lambda: at,
    )
    call.state_place("Quince Yard", "Hatch Nine", "Marigold", "555-0142")
    call.note("Zebulon says the pass is with Marigold, network orchardnet.")
    call.state_people(("anyone", "technician"), {"electrician": "when Marigold is back"})
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "3.1 V")
    call.answer("eye-volts-far-end", "3.3 V", mode="again")
    call.done("remake-splice")
    call.judge({"will-not-close-on-timer": "too early"}, "when Marigold comes to Quince Yard")
    call.close("left out of service", "Zebulon waits for Marigold at Hatch Nine.")
    call.reopen("Marigold called from 555-0142.")
    call.close("left out of service", "Zebulon waits.")
    return named


def test_a_call_without_names_holds_none_and_comes_to_the_same(store: Store, shipped_trees: Trees) -> None:
    named = spoken(shipped_trees, store)
    whole, bare = export_call(store, named), export_call(store, named, without_names=True)
    assert all(secret in whole for secret in SECRETS)
    assert not any(secret in bare for secret in SECRETS) and named not in bare
    arrival = import_call(store, read_copy(bare))
    assert arrival.kind == "new" and arrival.call_id != named
    assert import_call(store, read_copy(bare)).kind == "nothing new"
    first, second = (Call(shipped_trees, history=store.events(each)) for each in (named, arrival.call_id))
    assert [(each.cause, each.probability) for each in first.likely()] == [
        (each.cause, each.probability) for each in second.likely()
    ]
    assert first.state.outcome == second.state.outcome and second.state.reason == LEFT_OUT
    assert [event.at for event in first.events] == [event.at for event in second.events]
    assert {event.by for event in second.events} == {"person 1"}
    assert not any(secret in text_of(record(second, arrival.call_id)) for secret in SECRETS)


def test_the_same_call_gets_the_same_id_without_names(store: Store, shipped_trees: Trees) -> None:
    events = store.events(spoken(shipped_trees, store))
    assert nameless(events) == nameless(events)
    other = store.events(spoken(shipped_trees, store, datetime(2026, 3, 2, tzinfo=UTC)))
    assert nameless(events)[0] != nameless(other)[0]


def test_a_door_without_names_has_its_counts() -> None:
    record = DoorRecord(
        site="Quince Yard", notes=("Marigold",), network={"name": "orchardnet"}, past={"handed over": 2}
    )
    assert without_names(record) == DoorRecord(past={"handed over": 2})


NOW = datetime(2031, 6, 1, 12, tzinfo=UTC)


@pytest.fixture
def aged(store: Store, shipped_trees: Trees) -> tuple[Store, list[str]]:
    """Two old calls on a door that is kept, one on another, one old and open, and a new one."""
    Doors.of(store).keep(DoorRecord(site="Quince Yard", name="Hatch Nine", notes=("Marigold has the ladder.",)))
    Doors.of(store).keep(DoorRecord(site="Quince Yard", name="Hatch Nine"))
    old = NOW - timedelta(days=1000)
    calls = [spoken(shipped_trees, store, old), spoken(shipped_trees, store, old + timedelta(days=1))]
    for site, at in (("Elder Row", old), ("Elder Row", NOW)):
        named = store.begin()
        call = Call(
            shipped_trees,
            {},
            ["noisy-operator"],
            site=site,
            recorder=store.recorder(named),
            clock=lambda at=at: at,  # type: ignore[misc]
        )
        call.close("ended without a visit", "It was the heating.")
        calls.append(named)
    named = store.begin()
    Call(shipped_trees, {}, ["noisy-operator"], recorder=store.recorder(named), clock=lambda: old)
    return store, [*calls, named]


def test_what_is_old_and_ended_goes_and_leaves_counts(aged: tuple[Store, list[str]], shipped_trees: Trees) -> None:
    store, (first, second, third, new, still_open) = aged
    before = NOW - timedelta(days=900)
    found = to_forget(store, shipped_trees, before)
    assert {call.id for call in found.calls} == {first, second, third} and found.still_open == 1
    forget(store, found, before)
    assert {call.id for call in store.calls()} == {new, still_open}
    record = Doors.of(store).one("hatch nine").record
    assert record.past == {"left out of service": 2} and sum(record.past_causes.values()) == 2
    written = Path(store.where).read_bytes()
    assert b"555-0142" not in written and b"It was the heating" in written
    again = to_forget(store, shipped_trees, before)
    assert not again.calls


def test_replaced_records_of_doors_go_and_the_latest_stays(aged: tuple[Store, list[str]], shipped_trees: Trees) -> None:
    store, _ = aged
    later = datetime(2099, 1, 1, tzinfo=UTC)
    found = to_forget(store, shipped_trees, later)
    assert found.records == 1
    forget(store, found, later)
    (left,) = Doors.of(store).revisions(Doors.of(store).one("hatch nine").door_id)
    assert left.record.name == "Hatch Nine" and not left.record.notes
    assert b"Marigold has the ladder" not in Path(store.where).read_bytes()


def test_it_says_what_goes_and_asks(
    aged: tuple[Store, list[str]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    store, calls = aged
    where, count = store.where, len(store.calls())
    monkeypatch.setattr("diagnose.commands.log.datetime", _Frozen)
    assert main(["--store", where, "log", "--forget"]) == 2
    assert "keep-days" in capsys.readouterr().err
    monkeypatch.setattr("click.confirm", lambda *_, **__: False)
    assert main(["--store", where, "log", "--forget", "--days", "900"]) == 0
    shown = capsys.readouterr()
    assert all(call in shown.out for call in calls[:3]) and calls[3] not in shown.out
    assert "go 3 calls" in shown.out and "1 as old are still open" in shown.err
    assert len(store.calls()) == count
    change_settings({"keep-days": "900"}, tmp_path / "settings.toml")
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(tmp_path / "settings.toml"))
    assert main(["--store", where, "log", "--forget", "--yes"]) == 0
    assert len(store.calls()) == count - 3
    assert main(["--store", where, "log", "--forget", "--yes"]) == 0
    assert "Nothing that has ended" in capsys.readouterr().err


class _Frozen(datetime):
    """The day on which it is asked."""

    @classmethod
    def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
        return NOW


def test_how_long_is_a_setting(tmp_path: Path) -> None:
    file = tmp_path / "settings.toml"
    assert change_settings({"keep-days": "730"}, file).keep_days == 730
    assert "keep-days = 730" in file.read_text()
    assert change_settings({"keep-days": ""}, file).keep_days == 0
    for typed in ("a year", "-3", "99999999"):
        with pytest.raises(SettingsError, match="number of days"):
            change_settings({"keep-days": typed}, file)
    assert load_settings(file)[0].keep_days == 0
