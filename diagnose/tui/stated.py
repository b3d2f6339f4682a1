"""What was said about a door before the first question."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diagnose.calls.call import Call


@dataclass(frozen=True)
class Stated:
    """What was said about a door."""

    symptoms: tuple[str, ...] = ()
    facts: dict[str, str | tuple[str, ...]] = field(default_factory=dict)
    people: tuple[str, ...] = ("anyone", "technician")
    site: str = ""
    door: str = ""
    walk: str = ""


def stated_of(call: Call) -> Stated:
    """What a call holds of its door."""
    state = call.state
    return Stated(state.symptoms, dict(state.facts), state.people, state.site, state.door, state.walk)
