"""A screened call goes by mail as one file, comes whole or not at all, and goes on at the door."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose import Call
from diagnose.calls.exchange import ExchangeError, export_call, import_call, read_copy
from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.screening.danger import note_dangers
from diagnose.screening.handover import hand_over
from diagnose.screening.sheet import make_sheet


@pytest.fixture
def mailed(tmp_path: Path, dock: Trees) -> str:
    office = Store.open(tmp_path / "office.sqlite3")
    call_id = office.begin()
    call = Call(dock, recorder=office.recorder(call_id), site="Mill ñ “3”")
    call.state_symptoms(["will-not-move"])
    call.answer("springs-look", "gap", heard="told")
    note_dangers(call)
    hand_over(call, make_sheet(call))
    return export_call(office, call_id)


def test_it_arrives_whole_whatever_mail_does_to_its_spaces(mailed: str, tmp_path: Path, dock: Trees) -> None:
    spaced = json.dumps(json.loads(mailed), indent=4).replace("\n", "\r\n")
    for text in (mailed, spaced):
        van = Store.open(tmp_path / f"van{len(text)}.sqlite3")
        arrival = import_call(van, read_copy(text))
        at_door = Call(dock, history=van.events(arrival.call_id))
        assert at_door.state.site == "Mill ñ “3”"
        assert at_door.state.answers["springs-look"].heard == "told"
        assert at_door.state.dangers == {"falling": "yes"}


def test_a_word_changed_on_the_way_is_noticed(mailed: str) -> None:
    with pytest.raises(ExchangeError, match="checksum does not fit"):
        read_copy(mailed.replace('"gap"', '"whole"'))


def test_a_file_of_before_there_were_checksums_is_still_read(mailed: str) -> None:
    old = json.loads(mailed)
    del old["sha256"]
    assert read_copy(json.dumps(old)).events == read_copy(mailed).events
