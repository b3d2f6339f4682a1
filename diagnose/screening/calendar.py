"""Calls that wait for somebody, as entries of a calendar (iCalendar, RFC 5545).

Imported only where the optional package ``icalendar`` is wanted.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple

from dateutil.parser import ParserError, parse
from dateutil.relativedelta import relativedelta
from icalendar import Calendar, Event

from diagnose import __version__
from diagnose.calls.call import Call
from diagnose.calls.events import AnyEvent
from diagnose.calls.words import title
from diagnose.knowledge.model import Trees
from diagnose.screening.sheet import make_sheet

# An hour of the day that somebody said, beside a day.
_HOUR = re.compile(r"\d{1,2}:\d\d|\d{1,2} ?(am|pm)\b", re.IGNORECASE)
_AFTER = re.compile(r"(?:in|after) (?P<count>\d+|an?|one|two|three) (?P<unit>minute|hour|day|week|month)s?\b", re.I)
_NUMBERS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3}
# "04/05" is one day here and another there.
_EITHER_WAY = re.compile(r"\d+[/.]\d+")
_SPACE = uuid.UUID("6b1c2f0e-6f0a-4c1c-9a2e-51f2a7c0d3b4")
# RFC 5545, 3.8.1.9: 1 is the highest, 9 the lowest.
_PRIORITY = {"emergency": 1, "today": 3, "next working day": 5, "next free visit": 9}
_SATURDAY = 5


class Waiting(NamedTuple):
    """A call of so many ``entries``; ``events`` is ``None`` where it has ended, at ``last_at``."""

    id: str
    opened_at: str
    last_at: str
    entries: int
    events: Sequence[AnyEvent] | None


def calendar(trees: Trees, calls: Iterable[Waiting], now: datetime, *, without_names: bool = False) -> bytes:
    """A calendar with one all-day or timed entry for each call; ``now`` has a time zone, in which days are reckoned.

    An entry has the same identity whenever it is made: a calendar that reads it again changes its own. One that has
    ended is cancelled. A caller's name and number never stand there; ``without_names`` leaves out places and whatever
    was typed, too.
    """
    made = Calendar()
    made.add("prodid", f"-//diagnose//diagnose {__version__}//EN")
    made.add("version", "2.0")
    for each in calls:
        entry = Event()
        entry.add("uid", str(uuid.uuid5(_SPACE, f"{each.id} {each.opened_at}")))
        entry.add("dtstamp", now.astimezone(UTC))
        entry.add("last-modified", datetime.fromisoformat(each.last_at).astimezone(UTC))
        entry.add("sequence", each.entries)
        if each.events is None:
            entry.add("summary", f"Ended: {each.id}")
            entry.add("status", "CANCELLED")
            entry.add("dtstart", datetime.fromisoformat(each.last_at).astimezone(now.tzinfo).date())
        else:
            _fill(entry, trees, each, now, without_names)
        made.add_component(entry)
    return bytes(made.to_ical())


def _fill(entry: Event, trees: Trees, waiting: Waiting, now: datetime, without_names: bool) -> None:
    assert waiting.events is not None
    call = Call(trees, history=waiting.events)
    state = call.state
    # A walk has no complaint, and so no sheet.
    sheet = make_sheet(call) if state.symptoms else None
    urgency = sheet.urgency if sheet else "next working day"
    said_at = datetime.fromisoformat(waiting.last_at).astimezone(now.tzinfo)
    words = [state.look_again] if state.waiting_for else list(state.coming.values())
    found = [day for each in words if (day := when_of(each, said_at)) is not None]
    start: date | datetime
    if found:
        start = min(found, key=lambda day: _moment(day, now))
    elif words or state.waiting:
        # No day was said: it stands where whoever makes the calendar sees it.
        start = now.date()
    else:
        opened = datetime.fromisoformat(waiting.opened_at).astimezone(now.tzinfo).date()
        start = _next_working_day(opened) if urgency.startswith("next") else opened
    minutes = round(sheet.minutes.median) if sheet else 60
    if isinstance(start, datetime):
        entry.add("dtstart", start.astimezone(UTC))
        entry.add("dtend", (start + timedelta(minutes=minutes)).astimezone(UTC))
    else:
        entry.add("dtstart", start)
    entry.add("status", "CONFIRMED" if found or not words else "TENTATIVE")
    entry.add("priority", _PRIORITY[urgency])
    entry.add("categories", [urgency])
    complaints = "; ".join(title(trees, "symptoms", symptom) for symptom in state.symptoms)
    entry.add("summary", f"{urgency.upper()}: {complaints or 'a walk'}")
    lines = [f"Call {waiting.id}."]
    if sheet:
        lines += [*sheet.reasons, f"About {minutes} minutes at the door."]
    if not without_names:
        lines += [f"{state.waiting[0].upper()}{state.waiting[1:]}."] if state.waiting else []
        if where := ", ".join(filter(None, (state.site, state.door))):
            entry.add("location", where)
    entry.add("description", "\n".join(lines))


def when_of(words: str, said_at: datetime) -> date | datetime | None:
    """The day, or the moment where an hour was said, that somebody's words mean; ``None`` where they name none.

    ``said_at`` has a time zone. "after rain" and "04/05" name no day.
    """
    words = words.strip()
    if after := _AFTER.search(words):
        count = int(_NUMBERS.get(after["count"].casefold(), 0) or after["count"])
        unit = after["unit"].casefold()
        if unit in ("minute", "hour"):
            return said_at + timedelta(**{f"{unit}s": count})
        steps: Mapping[str, relativedelta] = {
            "day": relativedelta(days=count),
            "week": relativedelta(weeks=count),
            "month": relativedelta(months=count),
        }
        return _at_hour((said_at + steps[unit]), words)
    for name, days in (("today", 0), ("tonight", 0), ("tomorrow", 1)):
        if re.search(rf"\b{name}\b", words, re.IGNORECASE):
            return _at_hour(said_at + timedelta(days=days), words)
    if _EITHER_WAY.search(words) or not re.search(r"[a-z:-]", words, re.IGNORECASE):
        return None
    try:
        found = parse(words, default=said_at.replace(hour=0, minute=0, second=0, microsecond=0))
    except (ParserError, OverflowError):
        return None
    if found.date() < said_at.date() and not re.search(r"\d{4}", words):
        found += relativedelta(years=1)
    moment: datetime = found
    return moment if _HOUR.search(words) else moment.date()


def _at_hour(day: datetime, words: str) -> date | datetime:
    if (hour := _HOUR.search(words)) is None:
        return day.date()
    try:
        moment: datetime = parse(hour.group(), default=day.replace(minute=0, second=0, microsecond=0))
    except (ParserError, OverflowError):
        return day.date()
    return moment


def _moment(day: date | datetime, now: datetime) -> datetime:
    return day if isinstance(day, datetime) else datetime(day.year, day.month, day.day, tzinfo=now.tzinfo)


def _next_working_day(day: date) -> date:
    """Monday to Friday; a shop's holidays are not known."""
    following = day + timedelta(days=1)
    while following.weekday() >= _SATURDAY:
        following += timedelta(days=1)
    return following
