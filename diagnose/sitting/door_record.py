"""What a face shows of a door that is kept: its record in lines, and its calls."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from diagnose.calls.call import Call
from diagnose.calls.doors import DoorError, DoorRecord, Doors, Revision, left_out
from diagnose.calls.store import CallSummary
from diagnose.calls.trend_words import trend_lines
from diagnose.calls.trends import lines_of, trends_of
from diagnose.calls.words import Told, facts_in_words, in_groups, title
from diagnose.knowledge.model import Trees
from diagnose.knowledge.words import local_day
from diagnose.quantities.show import Shown


def place_of(site: str, name: str) -> str:
    """A door by where it is and what it is called there."""
    return ", ".join(filter(None, (site, name)))


def kept_in_words(revision: Revision) -> str:
    """``Kept: door-gxxdc7, Mill, Dock 2, record 1.``"""
    place = place_of(revision.record.site, revision.record.name)
    return f"Kept: {revision.door_id}, {place}, record {revision.number}."


def keep_new(trees: Trees, doors: Doors, record: DoorRecord, by: str) -> Revision:
    """Keep a door that is not known yet. Raises ``DoorError`` for one that is, ``CallError`` for facts unknown here."""
    if there := doors.known(record.site, record.name):
        raise DoorError(f"This door is kept already. Change it: diagnose door change {there.door_id}")
    # What the trees do not know is refused before it is kept.
    Call(trees, record.facts)
    return doors.keep(record, by)


def with_history(trees: Trees, doors: Doors, known: Revision, today: datetime, units: Shown) -> list[Told]:
    """All that is known of a door, what changes at it by the readings of its calls, and those."""
    place = known.record.site, known.record.name
    trends = trends_of(trees, lines_of(trees, doors.histories(*place)))
    calls = [Told("item", call_line(trees, call)) for call in doors.calls_at(*place)]
    lines = [*door_lines(trees, known), *trend_lines(trends, today, units)]
    return [*lines, Told("heading", "Calls"), *(calls or [Told("text", "None is kept here.")])]


def door_lines(trees: Trees, revision: Revision) -> list[Told]:
    record = revision.record
    by = f" by {revision.by}" if revision.by else ""
    lines = [Told("heading", place_of(record.site, record.name) or "A door")]
    lines.append(Told("text", f"{revision.door_id}, record {revision.number} of {local_day(revision.at)}{by}"))
    groups: list[tuple[str, Iterable[tuple[str, str]]]] = [
        (group or "Facts", facts_in_words(trees, {name: record.facts[name] for name in named}))
        for group, named in in_groups(trees, record.facts).items()
    ]
    lines += [Told("text", f"Does not go together. {wrong}") for wrong in left_out(trees, record)]
    for heading, pairs in (*groups, ("Figures", record.data.items()), ("Network", record.network.items())):
        entries = [Told("item", f"{name}: {value}") for name, value in pairs]
        lines += [Told("heading", heading), *entries] if entries else []
    for heading, texts in (("Photographs", record.photographs), ("Notes", record.notes)):
        lines += [Told("heading", heading), *(Told("item", text) for text in texts)] if texts else []
    past = [Told("item", f"{title(trees, 'causes', cause)}: {count}") for cause, count in record.past_causes.items()]
    past = [*(Told("item", f"{ended}: {count}") for ended, count in record.past.items()), *past]
    return [*lines, Told("heading", "Calls that are kept no more"), *past] if past else lines


def call_line(trees: Trees, call: CallSummary) -> str:
    """A call of a door in one line: when, what for, and how it ended."""
    complaints = "; ".join(title(trees, "symptoms", symptom) for symptom in call.symptoms)
    state = call.outcome or call.trouble or call.waiting or "open"
    return ", ".join(filter(None, (f"{local_day(call.opened_at)}  {call.id}", complaints, state)))
