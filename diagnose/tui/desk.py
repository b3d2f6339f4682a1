"""The desk every screen works at: the trees, the settings, the store, and the call in hand.

What is said goes onto the disk here before any screen shows it. What a person has to be asked for that, the app asks.
"""

from __future__ import annotations

import asyncio
import dataclasses
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from textual.app import App

from diagnose.settings import Settings
from diagnose.tui.keys import choose
from diagnose.tui.saver import InHand, NotSaved, Saver, sentence_of
from diagnose.tui.themes import THEMES
from diagnose.tui.widgets.hints import Hints
from diagnose.tui.widgets.too_small import Readable

if TYPE_CHECKING:
    from diagnose.calls.call import Call, WordNeeded
    from diagnose.calls.doors import Known
    from diagnose.calls.events import AnyEvent
    from diagnose.calls.store import Store
    from diagnose.knowledge.model import Trees
    from diagnose.sitting.say import AnyAct


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


@dataclass(frozen=True)
class Told:
    """What came of something said: a sentence, or why it was refused."""

    sentence: str = ""
    refused: str = ""


class Desk(Readable):
    """``open_store`` is called in a thread while the first screen stands; it may raise. ``now`` and ``clock`` are the
    monotonic and the wall clock. Keys pressed within ``settle`` seconds of a new question are not taken for answers.
    """

    def __init__(
        self,
        trees: Trees,
        open_store: Callable[[], Store] | None = None,
        settings: Settings | None = None,
        *,
        clock: Callable[[], datetime] | None = None,
        now: Callable[[], float] = time.monotonic,
        settle: float = 0.25,
    ) -> None:
        super().__init__()
        self.trees = trees
        self.settings = settings or Settings()
        self._key_map = choose(self.settings.keys)
        self.clock = clock
        self.now = now
        self.settle = settle
        self.store: Store | None = None
        self.store_problem = ""
        # Set when the attempt to open the store has come to an end, well or ill.
        self.store_tried = asyncio.Event()
        self.in_hand: InHand | None = None
        self._open_store = open_store
        for theme in THEMES:
            self.register_theme(theme)
        # Before anything is styled: to change it later styles all of it twice.
        self.set_reactive(App.theme, self._wanted_theme())
        # A call to be begun, or a kept one to be gone on with, as soon as the start stands.
        self.asked: Stated | str = ""
        # The site and the door of new calls, as far as they are known.
        self.where = ("", "")

    def _wanted_theme(self) -> str:
        named = {"light": "day", "dark": "night", "": "night"}.get(self.settings.theme, self.settings.theme)
        return named if named in self.available_themes else "night"

    def use_settings(self, settings: Settings) -> None:
        """Go by other settings from now on."""
        self.settings = settings
        self.set_keymap(choose(settings.keys))
        self.theme = self._wanted_theme()
        for screen in self.screen_stack:
            for hints in screen.query(Hints):
                hints.refresh()

    # --- what the app does with its screens ----------------------------------------------------------------

    def first_screen_stands(self) -> None:
        """The start is painted: load, behind it, what it did not need."""

    def show_calls(self, told: str = "") -> None:
        """Have the start look again which calls are open, and say what has come of one."""

    def open(self, in_hand: InHand) -> None:
        """Go to the interview of a call; back leads to the screen that was there."""

    async def ask_unsaved(self, why: str) -> str | None:
        """What to do where something cannot be saved: ``again``, ``without``, or leave it."""

    async def ask_word(self, wanted: WordNeeded) -> tuple[str, str] | None:
        """The word that is missing, and the reason typed with it; ``None`` to leave all as it is."""

    async def show_meanwhile(self, call: Call) -> None:
        """What others recorded in the call, to be read before it goes on."""

    # --- calls ---------------------------------------------------------------------------------------------

    def _call(self, saver: Saver, stated: Stated | None = None, history: Iterable[AnyEvent] | None = None) -> InHand:
        """A call that ``saver`` records: a new one on the door that was stated, or one with a history."""
        from diagnose.calls.call import Call

        given = {} if stated is None else dict(vars(stated))
        return InHand(
            Call(self.trees, **given, history=history, by=self.settings.by, clock=self.clock, recorder=saver), saver
        )

    async def begin(self, stated: Stated) -> InHand | str:
        """A new call on the door that was stated, or why it cannot begin. Only to be awaited in a worker."""
        await self.store_tried.wait()
        saver = Saver(self.store, "", self.store_problem)
        begun: list[InHand] = []
        if wrong := await self.attempt(saver, lambda: begun.append(self._call(saver, stated))):
            return wrong
        known = self._known_at(stated)
        return await self.attempt(saver, lambda: begun[0].call.recall(known.readings, known.lines)) or begun[0]

    def known(self, stated: Stated) -> Stated:
        """What was stated, and what was known of that door before."""
        from diagnose.knowledge.fitting import laid_over

        facts = laid_over(self.trees.facts, self._known_at(stated).facts, stated.facts)
        return dataclasses.replace(stated, facts=facts)

    def _known_at(self, stated: Stated) -> Known:
        from diagnose.calls.doors import Known, known_at

        if self.store is None or not (stated.site or stated.door):
            return Known()
        try:
            return known_at(self.store, self.trees, stated.site, stated.door)
        except Exception:
            # What was known is a help; a call can begin without it.
            return Known()

    def kept(self, call_id: str) -> InHand | str:
        """A call that is kept, or why it cannot be had."""
        if self.store is None:
            return self.store_problem
        try:
            events = list(self.store.events(call_id))
        except Exception as error:
            return sentence_of(error)
        return self._call(Saver(self.store, call_id), history=events)

    def resume(self, call_id: str) -> str:
        """Take up a kept call again. Gives back why not, or nothing."""
        kept = self.kept(call_id)
        if isinstance(kept, str):
            return kept
        self._recall(kept)
        self.open(kept)
        return ""

    def _recall(self, in_hand: InHand) -> None:
        """What is known of its door goes beside a call that began without it, on the phone for instance."""
        from diagnose.calls.doors import recall

        if self.store is None:
            return
        try:
            told = recall(self.store, in_hand.call, in_hand.saver.call_id)
        except Exception:
            # What was known is a help; a call can go on without it.
            return
        if told:
            self.notify(told, markup=False)

    async def end(self, call_id: str, reason: str) -> str:
        """End a kept call that nobody goes on with. Gives back why not, or nothing. Only to be awaited in a worker."""
        from diagnose.sitting.phone import end_call

        kept = self.kept(call_id)
        if isinstance(kept, str):
            return kept
        return await self.attempt(kept.saver, lambda: end_call(kept.call, reason))

    async def attempt(self, saver: Saver, change: Callable[[], object]) -> str:
        """Do ``change`` to a call. Gives back a sentence why it did not happen, or nothing.

        Where it cannot be saved the person decides: try again, go on without saving, or leave it.
        Only to be awaited in a worker.
        """
        from diagnose.calls.answering import AnswerError
        from diagnose.calls.call import CallError, WordNeeded
        from diagnose.calls.faults import MovedOn

        while True:
            try:
                change()
            except NotSaved as error:
                way = await self.ask_unsaved(str(error))
                if way == "without":
                    saver.go_on_without()
                elif not way:
                    return f"Not taken, because it could not be saved: {error}"
            except WordNeeded:
                raise
            except (AnswerError, CallError, MovedOn) as error:
                return str(error)
            else:
                return ""

    async def say(self, in_hand: InHand, act: AnyAct) -> Told:
        """Say or do one thing at the call in hand; where a word more is needed, it is asked for.

        Only to be awaited in a worker.
        """
        from diagnose.calls.call import WordNeeded
        from diagnose.sitting.say import StatePlace, do, with_word

        told: list[str] = []
        units = self.settings.units
        while True:
            try:
                wrong = await self.attempt(in_hand.saver, lambda act=act: told.append(do(in_hand.call, act, units)))  # type: ignore[misc]
            except WordNeeded as wanted:
                word = await self.ask_word(wanted)
                if word is None:
                    return Told(refused="Left as it was.")
                act = with_word(act, *word)
            else:
                if isinstance(act, StatePlace) and not wrong:
                    self._recall(in_hand)
                await self.show_meanwhile(in_hand.call)
                return Told(refused=wrong) if wrong else Told(told[-1])
