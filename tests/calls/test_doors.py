"""Doors as records: kept, found by a few letters, never overwritten, and never with a pass-phrase."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.calls.call import Call
from diagnose.calls.doors import DoorError, DoorRecord, Doors, changed, facts_known, known_at, record_of, without_names
from diagnose.calls.store import Store, StoreError
from diagnose.cli import main
from diagnose.knowledge.model import Trees
from tests.doors import TROLLEY_DOOR

DOCK = DoorRecord(site="Alder Works", name="Dock 3", facts={"drive": "trolley"}, data={"weight": "450 lb"})


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    kept = Store.open(place)
    yield kept
    kept.close()


@pytest.fixture
def doors(store: Store) -> Doors:
    return Doors.of(store)


def test_a_change_is_a_revision_and_the_latest_counts(doors: Doors) -> None:
    first = doors.keep(DOCK, by="Ada")
    second = doors.keep(changed(first.record, data={"weight": "480 lb", "springs": "2"}, notes=["Sticks in frost."]))
    assert (first.number, second.number, second.door_id) == (1, 2, first.door_id)
    assert doors.latest(first.door_id).record.data == {"weight": "480 lb", "springs": "2"}
    assert [each.record for each in doors.revisions(first.door_id)] == [first.record, second.record]
    assert doors.revisions(first.door_id)[0].by == "Ada"
    assert doors.keep(second.record).number == 2, "what says the same is no new record"
    assert changed(second.record, data={"springs": ""}).data == {"weight": "480 lb"}


def test_a_door_is_known_by_its_place_in_any_case(doors: Doors) -> None:
    kept = doors.keep(DOCK)
    found = doors.known(" alder works ", "DOCK 3")
    assert found == kept
    assert doors.known("Alder Works", "") is None and doors.known("", "") is None
    assert doors.keep(DoorRecord(site="ALDER WORKS", name="dock 3")).door_id == kept.door_id


def test_a_few_letters_of_site_or_name_find_it(doors: Doors) -> None:
    dock = doors.keep(DOCK).door_id
    gate = doors.keep(DoorRecord(site="Alder Works", name="Gate 1")).door_id
    odd = doors.keep(DoorRecord(site="100%_Mill", name="Ü 1")).door_id
    assert [door.id for door in doors.search("ald do")] == [dock]
    assert [door.id for door in doors.search("alder")] == [dock, gate]
    assert [door.id for door in doors.search("0%_")] == [odd] == [door.id for door in doors.search("ü")]
    assert doors.search("zebra") == [] and len(doors.search()) == 3
    assert doors.one("dock 3").door_id == dock == doors.one(dock).door_id
    with pytest.raises(StoreError, match="could be any of"):
        doors.one("alder")
    with pytest.raises(StoreError, match="No door is kept"):
        doors.one("zebra")


def test_two_doors_cannot_have_one_name(doors: Doors) -> None:
    doors.keep(DOCK)
    gate = doors.keep(DoorRecord(site="Alder Works", name="Gate 1"))
    with pytest.raises(DoorError, match="called so already"):
        doors.keep(DOCK, door_id=gate.door_id)


@pytest.mark.parametrize(
    "given",
    [
        {"data": {"Wi-Fi pass-phrase": "x"}},
        {"network": {"network key": "x"}},
        {"network": {"PASSWORD": "x"}},
        {"network": {"psk": "x"}},
        {"data": {"remark": "password: hunter2"}},
        {"notes": ("The key is 1234.",)},
        {"notes": ("wifi passcode on the wall",)},
    ],
)
def test_a_pass_phrase_is_never_taken(doors: Doors, given: dict[str, object]) -> None:
    with pytest.raises(DoorError, match="None is ever kept here"):
        doors.keep(DoorRecord(site="Alder Works", **given))  # type: ignore[arg-type]
    assert doors.search() == []


def test_a_key_switch_is_no_secret(doors: Doors) -> None:
    doors.keep(DoorRecord(site="Alder Works", data={"key switch": "left jamb", "key way": "1/4 in"}))
    assert len(doors.search()) == 1


def test_what_cannot_be_kept_is_said(doors: Doors) -> None:
    with pytest.raises(DoorError, match="one of them at least"):
        doors.keep(DoorRecord(data={"weight": "1"}))
    with pytest.raises(DoorError, match="longer than"):
        doors.keep(DoorRecord(site="x" * 3000))
    with pytest.raises(DoorError, match="cannot be written"):
        doors.keep(DoorRecord(site="\udc80"))
    with pytest.raises(StoreError, match="no door"):
        doors.latest("door-none")


def test_a_call_gives_its_facts_and_the_next_starts_with_them(shipped_trees: Trees, store: Store) -> None:
    doors = Doors.of(store)
    call = Call(shipped_trees, TROLLEY_DOOR, site="Alder Works", door="Dock 3")
    doors.keep(record_of(call.state))
    again = known_at(store, shipped_trees, "alder works", "dock 3")
    assert again.facts == TROLLEY_DOOR and "known" in again.sentence
    assert known_at(store, shipped_trees, "alder works", "dock 4").facts == {}
    with pytest.raises(DoorError, match="does not say which door"):
        record_of(Call(shipped_trees).state)


def test_facts_that_the_trees_no_longer_know_are_left_out(shipped_trees: Trees) -> None:
    record = DoorRecord(site="x", facts={"drive": "balloon", "colour": "red", "supply": "single-phase"})
    assert facts_known(shipped_trees, record) == {"supply": "single-phase"}


def test_without_names_only_facts_and_figures_are_left() -> None:
    whole = changed(DOCK, network={"channel": "6"}, notes=["Ask Ada."], photographs=["ada/1.jpg"])
    assert without_names(whole) == DoorRecord(facts=DOCK.facts, data=DOCK.data)


def test_from_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    where = ["--store", str(tmp_path / "calls.sqlite3")]

    def said(*words: str, code: int = 0) -> str:
        assert main([*where, *words]) == code
        told = capsys.readouterr()
        return told.out + told.err

    place = ("--site", "Alder Works", "--name", "Dock 3")
    assert "Kept: door-" in said("door", "add", *place, "--fact", "drive=trolley", "--data", "weight=450 lb")
    assert "kept already" in said("door", "add", *place, code=2)
    assert "balloon" in said("door", "change", "dock", "--fact", "drive=balloon", code=2)
    assert "None is ever kept" in said("door", "change", "dock", "--network", "wifi key=abc", code=2)
    assert "record 2" in said("door", "change", "dock", "--network", "channel=6", "--note", "Sticks in [b]frost")
    assert "Alder Works, Dock 3" in said("door", "list", "alder")
    assert said("door", "list", "zebra", code=1)
    monkeypatch.setattr("sys.stdin", io.StringIO("quit\n"))
    begun = said("ask", "will-not-close-on-timer", "--site", "alder works", "--door", "dock 3")
    assert "This door is known" in begun
    shown = said("door", "show", "dock")
    assert "weight: 450 lb" in shown and "channel: 6" in shown and "[b]frost" in shown and "open" in shown
    assert '"drive": "trolley"' in said("log", "last", "--json").replace('":"', '": "')
    record = json.loads(said("door", "export", "dock", "--without-names"))
    assert record == {"site": "", "name": "", "facts": {"drive": "trolley"}, "data": {"weight": "450 lb"}} | {
        "network": {},
        "photographs": [],
        "notes": [],
        "past": {},
        "past_causes": {},
    }
    assert "record 2" in said("door", "from-call", "last"), "the call says nothing new of the door"
