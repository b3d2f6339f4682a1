"""What a face shows of a door that is kept: its record in lines, and its calls."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from diagnose.calls.words import Told, title

if TYPE_CHECKING:
    from diagnose.calls.doors import Revision
    from diagnose.calls.store import CallSummary
    from diagnose.knowledge.model import Trees


def place_of(site: str, name: str) -> str:
    """A door by where it is and what it is called there."""
    return ", ".join(filter(None, (site, name)))


def door_lines(trees: Trees, revision: Revision, calls: Iterable[CallSummary] = ()) -> list[Told]:
    """All that is known of a door, then its calls, in plain lines."""
    record = revision.record
    by = f" by {revision.by}" if revision.by else ""
    lines = [Told("heading", place_of(record.site, record.name) or "A door")]
    lines.append(Told("text", f"{revision.door_id}, record {revision.number} of {day(revision.at)}{by}"))
    facts = [(_fact(trees, name), _value(value)) for name, value in record.facts.items()]
    for heading, pairs in (("Facts", facts), ("Figures", record.data.items()), ("Network", record.network.items())):
        entries = [Told("item", f"{name}: {value}") for name, value in pairs]
        lines += [Told("heading", heading), *entries] if entries else []
    for heading, texts in (("Photographs", record.photographs), ("Notes", record.notes)):
        lines += [Told("heading", heading), *(Told("item", text) for text in texts)] if texts else []
    history = [Told("item", call_line(trees, call)) for call in calls]
    return [*lines, Told("heading", "Calls"), *(history or [Told("text", "None is kept here.")])]


def call_line(trees: Trees, call: CallSummary) -> str:
    """A call of a door in one line: when, what for, and how it ended."""
    complaints = "; ".join(title(trees, "symptoms", symptom) for symptom in call.symptoms)
    state = call.outcome or call.trouble or call.waiting or "open"
    return ", ".join(filter(None, (f"{day(call.opened_at)}  {call.id}", complaints, state)))


def day(at: str) -> str:
    """The day of an ISO time, in this machine's zone."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d")
    except ValueError:
        return at


def _fact(trees: Trees, name: str) -> str:
    return title(trees, "facts", name)


def _value(value: str | tuple[str, ...]) -> str:
    return value if isinstance(value, str) else ", ".join(value) or "none"
