"""What every screen may ask of the app, so that no screen has to know it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from datetime import datetime

    from diagnose.calls.store import Store
    from diagnose.knowledge.model import Trees
    from diagnose.settings import Settings
    from diagnose.sitting.say import AnyAct
    from diagnose.tui.saver import InHand, Saver
    from diagnose.tui.stated import Stated


@dataclass(frozen=True)
class Told:
    """What came of something said: a sentence, or why it was refused."""

    sentence: str = ""
    refused: str = ""


class Desk(Protocol):
    """The app, as the screens see it."""

    trees: Trees
    settings: Settings
    clock: Callable[[], datetime] | None
    now: Callable[[], float]
    settle: float
    store: Store | None
    store_problem: str
    store_tried: asyncio.Event
    asked: Stated | str
    in_hand: InHand | None
    where: tuple[str, str]

    def use_settings(self, settings: Settings) -> None:
        """Go by other settings from now on."""

    def first_screen_stands(self) -> None:
        """The start is painted: load, behind it, what it did not need."""

    async def begin(self, stated: Stated) -> InHand | str:
        """A new call on the door that was stated, or why it cannot begin. Only to be awaited in a worker."""
        ...

    def known(self, stated: Stated) -> Stated:
        """What was stated, and what was known of that door before."""

    def kept(self, call_id: str) -> InHand | str:
        """A call that is kept, or why it cannot be had."""
        ...

    async def end(self, call_id: str, reason: str) -> str:
        """End a kept call that nobody goes on with; gives back why not, or nothing."""
        ...

    def resume(self, call_id: str) -> str:
        """Take up a kept call again. Gives back why not, or nothing."""

    def open(self, in_hand: InHand) -> None:
        """Go to the interview of a call."""

    def show_calls(self, told: str = "") -> None:
        """Have the start look again which calls are open, and say what has come of one."""

    async def attempt(self, saver: Saver, change: Callable[[], object]) -> str:
        """Do ``change`` to a call. Gives back why it did not happen, or nothing. Only to be awaited in a worker."""

    async def say(self, in_hand: InHand, act: AnyAct) -> Told:
        """Say or do one thing at the call in hand. Only to be awaited in a worker."""
