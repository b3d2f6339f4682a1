"""The app: which screens there are on the desk, and the actions that all of them have."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from msgspec.structs import replace
from textual.app import SystemCommand
from textual.binding import BindingType
from textual.screen import Screen

from diagnose.settings import Settings
from diagnose.tui import actions
from diagnose.tui.desk import Desk
from diagnose.tui.keys import bindings
from diagnose.tui.saver import InHand, NotSaved, sentence_of
from diagnose.tui.screens.page import Page
from diagnose.tui.screens.start import Start
from diagnose.tui.text import printable
from diagnose.tui.widgets.too_small import started_as

if TYPE_CHECKING:
    from diagnose.calls.call import Call, WordNeeded
    from diagnose.calls.store import Store
    from diagnose.tui.desk import Stated


class DiagnoseApp(Desk):
    """The screens, on the desk. ``first`` makes one that stands before the start when the app opens."""

    CSS_PATH = Path(__file__).with_name("diagnose.tcss")
    TITLE = "diagnose"
    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.EVERYWHERE)
    first: Callable[[], Screen[None]] | None = None

    def on_mount(self) -> None:
        self.set_keymap(self._key_map)
        self.push_screen(Start())
        if self.first is not None:
            self.push_screen(self.first())
        if self.is_web:
            # Whoever brought the browser's keys here is gone: nobody can be reached any more.
            started_by = os.getppid()
            self.set_interval(1, lambda: None if os.getppid() == started_by else self.exit())

    def first_screen_stands(self) -> None:
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
        for screen in self.screen_stack:
            if isinstance(screen, Start):
                screen.show_calls(told)

    # --- calls ---------------------------------------------------------------------------------------------

    def open(self, in_hand: InHand) -> None:
        from diagnose.tui.screens.interview import Interview

        self.in_hand = in_hand
        self.push_screen(Interview(in_hand), self._call_left)

    def _call_left(self, _: object) -> None:
        self.in_hand = None
        self.show_calls()

    async def show_meanwhile(self, call: Call) -> None:
        from diagnose.sitting.say import meanwhile
        from diagnose.tui.screens.page import ReadingPage
        from diagnose.tui.widgets.paragraphs import BLANK, paragraph

        if news := meanwhile(call):
            words = [paragraph(("Somebody else is in this call, and recorded:", "bold")), BLANK]
            await self.push_screen_wait(ReadingPage("Call › Meanwhile", [*words, *map(paragraph, news)]))

    async def ask_unsaved(self, why: str) -> str | None:
        from diagnose.tui.screens.saving import NotSavedPage

        return await self.push_screen_wait(NotSavedPage(why))

    async def ask_word(self, wanted: WordNeeded) -> tuple[str, str] | None:
        from diagnose.sitting.say import words_for
        from diagnose.tui.screens.choosing import ChoicePage
        from diagnose.tui.screens.sentence import SentencePage
        from diagnose.tui.widgets.paragraphs import paragraph

        crumb, choices = "Call › A word on that", words_for(wanted)
        wrong = lambda text: "" if text.strip() else "Say why, in a few words."  # noqa: E731
        asks = {choice.name: choice.asks for choice in choices}
        while name := await self.push_screen_wait(ChoicePage(crumb, [paragraph(str(wanted))], choices)):
            if not asks[name]:
                return name, ""
            if text := await self.push_screen_wait(SentencePage(crumb, asks[name], wrong)):
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
            self.push_screen(Calculator())

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
        here = place.actions if place is not actions.EVERYWHERE else ()
        for action in (*here, *actions.EVERYWHERE.actions):
            if action.name == "command_palette":
                continue
            target = screen if action in here else self
            yield SystemCommand(action.title, action.explain, partial(target.run_action, action.name))

    def _fatal_error(self) -> None:
        """End without drawing a traceback over the terminal: ``run`` raises the error for its caller to report."""
        self._close_messages_no_wait()

    @property
    def fault(self) -> Exception | None:
        """What ended the app, if it was not its user."""
        return self._exception


def run(
    trees: str | Path | None,
    store: str | None,
    settings: Settings,
    first: Callable[[], Screen[None]] | None = None,
    asked: Stated | str = "",
    site: str = "",
    door: str = "",
) -> None:
    """Open the screens on the terminal, until their user leaves; ``first`` makes one to begin with.

    ``trees`` is a folder, ``store`` a file or URL; ``None`` are those that ship, and the usual place. ``asked`` is what
    a new call is to be about, or the id of a kept one to go on with. ``site`` and ``door`` are where new calls are, as
    far as that is known.

    Raises ``TreeError`` for trees that cannot be used, before anything is drawn.
    """
    from diagnose.knowledge.load import learned_file, load_trees

    settings = replace(settings, trees=str(trees or ""))
    app = DiagnoseApp(load_trees(trees, learned=learned_file(trees)), lambda: _opened(store), settings)
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


def _opened(store: str | None) -> Store:
    from diagnose.calls.store import Store

    return Store.open(store)
