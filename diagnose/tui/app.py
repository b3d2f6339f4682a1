"""The app: what all screens share, and how each thing said in a call gets onto the disk before it is shown."""

from __future__ import annotations

import asyncio
import dataclasses
import gc
import os
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from msgspec.structs import replace
from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.screen import Screen

from diagnose.settings import Settings
from diagnose.tui import actions
from diagnose.tui.desk import Told
from diagnose.tui.keys import bindings, choose
from diagnose.tui.saver import InHand, NotSaved, Saver, sentence_of
from diagnose.tui.screens.page import Page
from diagnose.tui.screens.start import Start
from diagnose.tui.text import printable
from diagnose.tui.themes import THEMES
from diagnose.tui.widgets.hints import Hints
from diagnose.tui.widgets.too_small import Readable, started_as

if TYPE_CHECKING:
    from diagnose.calls.call import Call, WordNeeded
    from diagnose.calls.doors import Known
    from diagnose.calls.events import AnyEvent
    from diagnose.calls.store import Store
    from diagnose.knowledge.model import Trees
    from diagnose.sitting.say import AnyAct
    from diagnose.tui.stated import Stated


class DiagnoseApp(Readable):
    """``open_store`` is called in a thread while the first screen stands; it may raise. ``now`` and ``clock`` are the
    monotonic and the wall clock. Keys pressed within ``settle`` seconds of a new question are not taken for answers.
    """

    CSS_PATH = Path(__file__).with_name("diagnose.tcss")
    TITLE = "diagnose"
    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.EVERYWHERE)

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
        # A screen that stands before the start when the app opens.
        self.first: Callable[[], Screen[None]] | None = None
        for theme in THEMES:
            self.register_theme(theme)
        # Before anything is styled: to change it later styles all of it twice.
        self.set_reactive(App.theme, self._wanted_theme())
        # A call to be begun, or a kept one to be gone on with, as soon as the start stands.
        self.asked: Stated | str = ""
        # The site and the door of new calls, as far as they are known.
        self.where = ("", "")

    def on_mount(self) -> None:
        self.set_keymap(self._key_map)
        self.push_screen(Start())
        if self.first is not None:
            self.push_screen(self.first())
        if self.is_web:
            # Whoever brought the browser's keys here is gone: nobody can be reached any more.
            started_by = os.getppid()
            self.set_interval(1, lambda: None if os.getppid() == started_by else self.exit())

    def _wanted_theme(self) -> str:
        named = {"light": "day", "dark": "night", "": "night"}.get(self.settings.theme, self.settings.theme)
        return named if named in self.available_themes else "night"

    def first_screen_stands(self) -> None:
        """The start is painted: load, behind it, what it did not need."""
        gc.enable()
        self.run_worker(self._load_the_rest, thread=True, group="prepare", exit_on_error=False)

    def _load_the_rest(self) -> None:
        """In a thread, behind the first screen: the store, then what the interview will need."""
        if self._open_store is not None:
            try:
                self.store = self._open_store()
            except Exception as error:
                # Without a store one can still work; the start says so, and so does every new call.
                self.store_problem = sentence_of(error)
        self.call_from_thread(self._store_tried)
        import diagnose.calls.call
        import diagnose.tui.screens.interview  # noqa: F401
        from diagnose.finding.meant import make_ready

        make_ready(self.trees)

    def _store_tried(self) -> None:
        self.store_tried.set()
        self.show_calls()

    def show_calls(self, told: str = "") -> None:
        """Have the start look again which calls are open, and say what has come of one."""
        for screen in self.screen_stack:
            if isinstance(screen, Start):
                screen.show_calls(told)

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

    def open(self, in_hand: InHand) -> None:
        """Go to the interview of a call; back leads to the screen that was there."""
        from diagnose.tui.screens.interview import Interview

        self.in_hand = in_hand
        self.push_screen(Interview(in_hand), self._call_left)

    def _call_left(self, _: object) -> None:
        self.in_hand = None
        self.show_calls()

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
        from diagnose.tui.screens.saving import NotSavedPage

        while True:
            try:
                change()
            except NotSaved as error:
                way = await self.push_screen_wait(NotSavedPage(str(error)))
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
                word = await self._word(wanted)
                if word is None:
                    return Told(refused="Left as it was.")
                act = with_word(act, *word)
            else:
                if isinstance(act, StatePlace) and not wrong:
                    self._recall(in_hand)
                await self._show_meanwhile(in_hand.call)
                return Told(refused=wrong) if wrong else Told(told[-1])

    async def _show_meanwhile(self, call: Call) -> None:
        """What others recorded in the call, to be read before it goes on."""
        from diagnose.sitting.say import meanwhile
        from diagnose.tui.screens.page import ReadingPage
        from diagnose.tui.widgets.paragraphs import BLANK, paragraph

        if news := meanwhile(call):
            words = [paragraph(("Somebody else is in this call, and recorded:", "bold")), BLANK]
            await self.push_screen_wait(ReadingPage("Call › Meanwhile", [*words, *map(paragraph, news)]))

    async def _word(self, wanted: WordNeeded) -> tuple[str, str] | None:
        """The word that is missing, and the reason typed with it; ``None`` to leave all as it is."""
        from diagnose.sitting.say import words_for
        from diagnose.tui.screens.choosing import ChoicePage
        from diagnose.tui.screens.sentence import SentencePage
        from diagnose.tui.widgets.paragraphs import paragraph

        async def keep(text: str) -> str:
            return "" if text.strip() else "Say why, in a few words."

        crumb, choices = "Call › A word on that", words_for(wanted)
        asks = {choice.name: choice.asks for choice in choices}
        while name := await self.push_screen_wait(ChoicePage(crumb, [paragraph(str(wanted))], choices)):
            if not asks[name]:
                return name, ""
            if text := await self.push_screen_wait(SentencePage(crumb, asks[name], keep)):
                return name, text.strip()
        return None

    # --- actions -------------------------------------------------------------------------------------------

    async def action_back(self) -> None:
        if isinstance(self.screen, Page):
            self.screen.action_back()
        elif len(self.screen_stack) > 2:
            self.pop_screen()

    def action_help(self) -> None:
        from diagnose.tui.screens.help import Help

        if not isinstance(self.screen, Help):
            self.push_screen(Help(getattr(self.screen, "place", actions.EVERYWHERE)))

    def action_calculator(self) -> None:
        from diagnose.tui.screens.calculator import Calculator

        if not any(isinstance(screen, Calculator) for screen in self.screen_stack):
            self.push_screen(Calculator(self.in_hand))

    def action_where(self) -> None:
        from diagnose.tui.screens.glossary import Glossary, WhereIs

        told = self.screen.told_where() if isinstance(self.screen, Page) else []
        if not isinstance(self.screen, Glossary):
            self.push_screen(WhereIs(told) if told else Glossary())

    def action_copy(self) -> None:
        """The text of the screen to the clipboard, through the terminal; what is marked was copied before this."""
        text = self.screen.copied() if isinstance(self.screen, Page) else ""
        if text:
            self.copy_to_clipboard(text)
            first = printable(text.splitlines()[0])
            self.notify(f"Copied: {first[:60]}{'' if text == first[:60] else ' …'}", markup=False)
        else:
            self.notify("There is nothing to copy here.", markup=False)

    def action_light(self) -> None:
        """The other theme, from now on and at the next start."""
        from diagnose.settings import SettingsError, change_settings

        self.theme = "night" if self.theme == "day" else "day"
        try:
            change_settings({"theme": self.theme})
        except SettingsError as error:
            self.notify(printable(f"For now: {error}"), markup=False)

    def use_settings(self, settings: Settings) -> None:
        """Go by other settings from now on."""
        self.settings = settings
        self.set_keymap(choose(settings.keys))
        self.theme = self._wanted_theme()
        for screen in self.screen_stack:
            for hints in screen.query(Hints):
                hints.refresh()

    async def action_quit(self) -> None:
        """Leave; where something is only in memory, ask first."""
        if self.in_hand is None or self.in_hand.saver.safe:
            self.exit()
            return
        from diagnose.tui.screens.saving import QuitUnsaved

        if not isinstance(self.screen, QuitUnsaved):
            self.push_screen(QuitUnsaved(self.in_hand.saver), lambda leave: self.exit() if leave else None)

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """The palette: every action that has a meaning here."""
        place = getattr(screen, "place", actions.EVERYWHERE)
        here = actions.actions_of(place) if place != actions.EVERYWHERE else ()
        for action in (*here, *actions.actions_of(actions.EVERYWHERE)):
            if action.name == "command_palette":
                continue
            target = screen if action in here else self
            yield SystemCommand(action.title, action.explain, _doer(target, action.name))

    def _fatal_error(self) -> None:
        """End without drawing a traceback over the terminal: ``run`` raises the error for its caller to report."""
        self._close_messages_no_wait()

    @property
    def fault(self) -> Exception | None:
        """What ended the app, if it was not its user."""
        return self._exception


def _doer(target: App[None] | Screen[object], name: str) -> Callable[[], object]:
    async def do() -> None:
        await target.run_action(name)

    return do


def run(
    trees: str | Path | None = None,
    store: str | None = None,
    settings: Settings | None = None,
    first: Callable[[], Screen[None]] | None = None,
    asked: Stated | str = "",
    site: str = "",
    door: str = "",
) -> None:
    """Open the screens on the terminal, until their user leaves; ``first`` makes one to begin with.

    ``asked`` is what a new call is to be about, or the id of a kept one to go on with. ``site`` and ``door`` are where
    new calls are, as far as that is known.

    Raises ``TreeError`` for trees that cannot be used, before anything is drawn.
    """
    from diagnose.knowledge.load import learned_file, load_trees

    settings = settings or Settings()
    folder = trees or settings.trees or None
    settings = replace(settings, trees=str(folder or ""))
    app = DiagnoseApp(load_trees(folder, learned=learned_file(folder)), lambda: open_store(store, settings), settings)
    app.first, app.asked, app.where, app.command = first, asked, (site, door), started_as(trees, store)
    # The trees stay to the end: nobody looks for garbage among them while the first screen is made.
    gc.freeze()
    app.run()
    if app.is_web and app.in_hand is not None and not app.in_hand.saver.safe:
        # The connection ended before anybody could be asked.
        with suppress(NotSaved):
            app.in_hand.saver.save_now()
    if app.store is not None:
        app.store.close()
    if app.fault is not None:
        raise app.fault


def open_store(location: str | None, settings: Settings) -> Store:
    """The store named on the command line, in the environment, or in the settings. Raises ``StoreError``."""
    from diagnose.calls.store import Store

    return Store.open(location or os.environ.get("DIAGNOSE_STORE") or settings.store or None)
