"""What comes of bringing two stores together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from diagnose.calls.differences import Differing

# Told what is being brought together, how many have been looked at, and of how many.
Progress = Callable[[str, int, int], None]


@dataclass
class Brought:
    """What came of it, or, tried dry, what would come: ids of calls and doors, and how many events were moved."""

    sent: list[str] = field(default_factory=list)
    got: list[str] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)
    events_sent: int = 0
    events_got: int = 0
    renamed: list[tuple[str, str]] = field(default_factory=list)
    doors_sent: list[str] = field(default_factory=list)
    doors_got: list[str] = field(default_factory=list)
    differences: list[Differing] = field(default_factory=list)
    # Calls that one store has and the other has forgotten: they stay as they are.
    forgotten_here: list[str] = field(default_factory=list)
    forgotten_there: list[str] = field(default_factory=list)
    # A sentence for each call or door that could not be brought together, and why.
    left: list[str] = field(default_factory=list)
