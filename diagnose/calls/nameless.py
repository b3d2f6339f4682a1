"""A call that may be shown to others: without names, places, numbers to call back, or words that may hold them.

What was answered, done and proved stays, and so do the days: whoever brings such a call in comes to the same diagnosis.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from msgspec.structs import replace

from diagnose.calls import events as ev
from diagnose.calls.store import encode

LEFT_OUT = "(left out)"
# Whatever anybody may have typed freely. Where such words have to be there, others stand in their place.
FREE = frozenset({"site", "door", "caller", "number", "reason", "when", "text", "coming", "raw", "by"})


def nameless(events: Sequence[ev.AnyEvent]) -> tuple[str, tuple[ev.AnyEvent, ...]]:
    """The events with nothing in them that says who or where, and an id of their own, the same for the same call.

    People who recorded become ``person 1``, ``person 2``, so that it stays known which entries are one person's.
    """
    people: dict[str, str] = {}
    bare = tuple(_bare(event, people) for event in events)
    mark = hashlib.sha256("\n".join(map(encode, bare)).encode()).hexdigest()
    return f"{events[0].at[:10]}-{mark[:12]}", bare


def _bare(event: ev.AnyEvent, people: dict[str, str]) -> ev.AnyEvent:
    changes: dict[str, Any] = {}
    for name in FREE & set(event.__struct_fields__):
        held = getattr(event, name)
        if name == "by":
            changes[name] = people.setdefault(held, f"person {len(people) + 1}") if held else ""
        elif name == "coming":
            changes[name] = dict.fromkeys(held, LEFT_OUT)
        elif name == "raw" and isinstance(event, ev.Answered):
            changes[name] = event.value if isinstance(event.value, str) else _numbers(event)
        elif held:
            changes[name] = "" if name in ("site", "door", "caller", "number") else LEFT_OUT
    return replace(event, **changes)


def _numbers(event: ev.Answered) -> str:
    return "; ".join(f"{number:g} {event.unit}".rstrip() for number in event.value if isinstance(number, float))
