"""Visits and waiting calls in a calendar, read back by a library: iCalendar is RFC 5545."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import icalendar
import pytest

from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.cli import main
from diagnose.screening.calendar import when_of
from tests.conftest import SMALL

ZONE = timezone(timedelta(hours=2))
SAID = datetime(2031, 5, 6, 16, 30, tzinfo=ZONE)  # a Tuesday


@pytest.mark.parametrize(
    ("words", "when"),
    [
        ("tomorrow", date(2031, 5, 7)),
        ("tomorrow at 9:15", datetime(2031, 5, 7, 9, 15, tzinfo=ZONE)),
        ("in two hours", SAID + timedelta(hours=2)),
        ("after 3 days", date(2031, 5, 9)),
        ("Friday", date(2031, 5, 9)),
        ("9 June 2 pm", datetime(2031, 6, 9, 14, 0, tzinfo=ZONE)),
        ("4 January", date(2032, 1, 4)),
        ("2031-06-01", date(2031, 6, 1)),
        ("after the next rain", None),
        ("04/05", None),
        ("after 500 cycles", None),
        ("12", None),
        ("", None),
        ("99:99 tomorrow", date(2031, 5, 7)),
        ("[/x] \x00", None),
    ],
)
def test_words_name_a_day_or_none(words: str, when: date | None) -> None:
    assert when_of(words, SAID) == when


def _written(file: Path, *given: str) -> dict[str, Any]:
    """The entries by the first word of their summary, as the library reads them back."""
    assert main([*given, "--calendar", str(file)]) == 0
    (read,) = icalendar.Calendar.from_ical(file.read_bytes(), multiple=True)
    # What RFC 5545 asks of every calendar and every entry (3.6, 3.6.1).
    assert read["version"] == "2.0" and read["prodid"]
    assert all({"UID", "DTSTAMP", "DTSTART"} <= set(entry) and not entry.errors for entry in read.events)
    assert all(len(line) <= 75 for line in file.read_bytes().split(b"\r\n")), "folded, 3.1"
    return {str(entry["summary"]).split(":")[0]: entry for entry in read.events}


def test_a_calendar_has_an_entry_for_each_call_and_reads_it_again_as_the_same(tmp_path: Path, small_trees: Any) -> None:
    place = tmp_path / "calls.sqlite3"
    store = Store.open(place)

    def begin(site: str) -> Call:
        recorder = store.recorder(store.begin())
        return Call(small_trees, symptoms=["eye-lamp-wrong"], site=site, door="Bay; 2, left", recorder=recorder)

    begin("").state_place("Quince Yard", "Bay; 2, left", "Zebulon", "555-0142")
    waits = begin("Tansy Court")
    waits.state_people(waits.state.people, {"door technician": "2031-06-01 9:30"})
    store.close()
    given = ["--trees", str(SMALL), "--store", str(place), "log"]
    file = tmp_path / "visits.ics"
    first = _written(file, *given, "--site", "quince")
    (visit,) = first.values()
    assert visit["location"] == "Quince Yard, Bay; 2, left"
    assert not isinstance(visit.decoded("dtstart"), datetime), "no hour was promised"
    assert "Zebulon" not in file.read_text() and "555-0142" not in file.read_text()
    (waiting,) = _written(file, *given, "--state", "waiting").values()
    assert waiting.decoded("dtstart") == datetime(2031, 6, 1, 9, 30).astimezone(UTC)
    assert waiting.decoded("dtend") > waiting.decoded("dtstart")
    (bare,) = _written(file, *given, "--state", "waiting", "--without-names").values()
    assert "location" not in bare and "2031-06-01 9:30" not in bare["description"]
    # What ended is cancelled under the same name, with a later number (3.8.7.4).
    assert main([*given, "last", "--end", "the caller rang off"]) == 0
    ended = [entry for entry in _written(file, *given).values() if entry.get("status") == "CANCELLED"]
    assert [(entry["uid"], entry["sequence"] > waiting["sequence"]) for entry in ended] == [(waiting["uid"], True)]


def test_without_the_package_for_it_a_sentence_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import sys

    monkeypatch.delitem(sys.modules, "diagnose.screening.calendar")
    monkeypatch.setitem(sys.modules, "icalendar", None)
    place = str(tmp_path / "calls.sqlite3")
    assert main(["--trees", str(SMALL), "--store", place, "log", "--calendar", str(tmp_path / "x.ics")]) == 2
    assert "pip install 'diagnose[calendar]'" in capsys.readouterr().err
