"""An act of a practice and what came of it: what was found, what it cost, what happened to whom."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Literal

from diagnose.knowledge.words import minutes
from diagnose.practice.acts import AnyAct
from diagnose.practice.mishaps import Happened


@dataclass(frozen=True)
class Line:
    """A sentence for the trainee. ``kind`` is ``found``, ``done``, ``hurt``, ``note``, ``hint`` or ``time``."""

    kind: str
    text: str


@dataclass
class Done:
    """An act, and all that came of it: filled in while it is done, and left as it is from then on.

    ``energy`` is the state before it. ``minutes`` and ``money`` are its own; ``clock`` is the time after it.
    """

    act: AnyAct
    energy: str
    money: float = 0.0
    clock: float = 0.0
    lines: list[Line] = field(default_factory=list)
    # How many events the trainee's call has after it.
    events: int = 0
    found: str = ""
    happened: tuple[Happened, ...] = ()
    # What was found says nothing of the door: the power was off, or the reading was spoilt.
    false: bool = False
    removed: tuple[str, ...] = ()
    broke: str = ""
    # Whether the complaint was gone, or the proof passed; ``None`` where nothing was tried.
    worked: bool | None = None
    # Parts that were ruined before they could do anything.
    ruined: bool = False
    # The minutes in their parts, each with what it went on.
    spent: list[tuple[float, str]] = field(default_factory=list)

    @property
    def minutes(self) -> float:
        return sum(minutes for minutes, _ in self.spent)

    def leaves(self, causes: Collection[str]) -> set[str]:
        """What is in the door after the act, where ``causes`` were in it before."""
        return ({*causes, self.broke} - {""}) - set(self.removed)

    def spoils(self, what: Literal["answer", "work"]) -> bool:
        """Whether what happened on the way spoilt the reading, or the work."""
        return any(each.mishap is not None and each.mishap.spoils == what for each in self.happened)

    def say(self, kind: str, text: str) -> None:
        self.lines.append(Line(kind, text))

    def spend(self, minutes: float, on: str) -> None:
        if minutes > 0:
            self.spent.append((minutes, on))

    def say_minutes(self) -> None:
        """What the time went on, in a sentence."""
        parts = [f"{minutes:.0f} {on}" for minutes, on in self.spent]
        if len(parts) == 1:
            self.say("time", f"{minutes(self.minutes)} {self.spent[0][1]}.")
        elif parts:
            self.say("time", f"{minutes(self.minutes)}: {', '.join(parts)}.")
