"""What stands over a page in a window too small to read it, until the window is larger."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from textual import events
from textual.app import App
from textual.content import Content
from textual.widget import Widget

from diagnose.tui.keys import key_for, key_name
from diagnose.tui.text import plain, stack

if TYPE_CHECKING:
    from diagnose.tui.saver import InHand

# Columns and lines below which what decides might be cut; the breakpoints of the app say the same to its styles.
LEAST = (60, 18)


class Readable(App[None]):
    """An app whose pages are covered where they have too little room; nothing typed or clicked reaches them then."""

    HORIZONTAL_BREAKPOINTS = [(0, "-too-narrow"), (LEAST[0], "-narrow"), (110, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-too-low"), (LEAST[1], "-short"), (24, "-usual"), (30, "-tall")]  # noqa: RUF012
    # What it was started with, for a command that goes on with the same calls.
    command = "diagnose"
    in_hand: InHand | None

    async def on_event(self, event: events.Event) -> None:
        width, height = self.size
        if (width < LEAST[0] or height < LEAST[1]) and isinstance(event, events.InputEvent):
            leaves = isinstance(event, events.Key) and key_name(event.key) == key_for("quit")
            if not leaves and self.screen.query(TooSmall):
                return
        await super().on_event(event)

    @property
    def way_on(self) -> str:
        """The command that does line by line what the topmost page that has one does."""
        way = next((way for page in reversed(self.screen_stack) if (way := getattr(page, "way_on", ""))), "ask")
        call = self.in_hand.saver.call_id if self.in_hand is not None and not way.startswith("practise") else ""
        return f"{self.command} {way}{f' --call {call}' if call else ''}"


class TooSmall(Widget):
    """Covers its page, and says how large a window it needs and how to go on without one."""

    app: Readable

    def render(self) -> Content:
        (width, height), (columns, lines), in_hand = self.app.size, LEAST, self.app.in_hand
        if in_hand is None or in_hand.saver.safe:
            leave = f"Or leave with {key_for('quit')} - all that was said is kept - and go on line by line:"
        else:
            leave = "What was said last is NOT SAVED yet, so enlarge it first. Line by line it is:"
        return stack(
            [
                plain("TOO SMALL", "bold"),
                plain(f"This window has {width} columns and {height} lines; {columns} and {lines} are needed."),
                plain("Make it larger, or its letters smaller. Until then no key answers anything."),
                plain(leave),
                plain(f"  {self.app.way_on}", "bold"),
            ]
        )


def started_as(trees: str | Path | None, store: str | None) -> str:
    """The command that opens the same trees and calls."""
    given = (("--trees", trees), ("--store", store))
    return shlex.join(["diagnose", *(str(each) for option in given if option[1] for each in option)])
