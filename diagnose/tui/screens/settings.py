"""What is set once: units, who one is, the look, keys of one's own. Every change is in the file before it counts."""

from __future__ import annotations

from functools import partial

from msgspec.structs import replace
from textual import work

from diagnose.settings import (
    MEANINGS,
    SettingsError,
    change_settings,
    choices_of,
    known_values,
    load_settings,
    settings_file,
    shown,
)
from diagnose.tui import actions
from diagnose.tui.keys import can_be_chosen, key_name, keys_of, usual_keys
from diagnose.tui.screens.choosing import ChoicePage, PickPage, lettered
from diagnose.tui.screens.page import ListPage
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.paragraphs import paragraph
from diagnose.tui.widgets.pick_list import Row

_USUAL = "(the usual)"
# What changes nothing before the program is started anew.
_AT_THE_NEXT_START = ("store", "trees")


class SettingsPage(ListPage[None]):
    """Enter changes the highlighted setting. What cannot be is refused with a sentence, and nothing has changed."""

    TITLE = "diagnose › Settings"

    def on_mount(self) -> None:
        _, faults = load_settings()
        self._show("\n".join(str(fault) for fault in faults) or f"Kept in {settings_file()}")

    def _show(self, told: str) -> None:
        settings = self.desk.settings
        rows = []
        for name, meaning in MEANINGS.items():
            value = one_line(shown(settings, name)) or _USUAL
            rows.append(
                Row(name, assemble((f"{name:<9} ", ""), (f"{value:<24} ", "bold"), (meaning, "$text-muted")), set_in=35)
            )
        self.pick_list.show(rows)
        self.tell(told)

    @work(exclusive=True, group="page")
    async def picked(self, identity: str) -> None:
        name = identity
        ways = choices_of(name) or (tuple(known_values(self.desk.trees)["language"]) if name == "language" else ())
        if name == "keys":
            name = await self._which_key()
        elif ways:
            named = [*((way, way.capitalize()) for way in ways), ("usual", "The usual")]
            ask = paragraph((MEANINGS[name].capitalize(), "bold"))
            picked = await self.app.push_screen_wait(ChoicePage(f"Settings › {name}", [ask], lettered(named)))
            if picked:
                self._show(self._keep(name, "" if picked == "usual" else picked) or "Changed.")
            return
        if name:
            await self._ask(name)

    async def _which_key(self) -> str:
        """The setting of one key; empty where none is chosen."""
        rows = []
        for meaning in filter(can_be_chosen, usual_keys()):
            same = [each for each in actions.ACTIONS if each.meaning == meaning]
            keys = " or ".join(key_name(key) for key in keys_of(same[0]))
            titles = "; ".join(dict.fromkeys(each.title for each in same))
            shown_row = assemble((f"{keys:<14} ", "bold"), titles, (f"  {meaning}", "$text-muted"))
            rows.append(Row(meaning, shown_row, meaning, title=titles))
        page = PickPage("Settings › Keys", rows, "Type a word of what the key does")
        picked = await self.app.push_screen_wait(page)
        return f"keys.{picked}" if picked else ""

    async def _ask(self, name: str) -> None:
        kind, _, meaning = name.partition(".")
        settings = self.desk.settings
        held = settings.keys.get(meaning, "") if meaning else shown(settings, kind)
        what = f"Keys for '{meaning}': such as f6, or ctrl+u" if meaning else MEANINGS[kind].capitalize()

        ask = f"{what}. Empty for the usual."
        page = SentencePage(f"Settings › {name}", ask, partial(self._keep, name), "empty: usual", held)
        if await self.app.push_screen_wait(page) is not None:
            self._show("From the next start on." if name in _AT_THE_NEXT_START else "Changed.")

    def _keep(self, name: str, value: str) -> str:
        """Write it down and go by it; gives back why not, or nothing."""
        try:
            settings = change_settings({name: value}, known=known_values(self.desk.trees))
        except SettingsError as error:
            return str(error)
        # Who asks may have been said on the command line.
        by = settings.by if name == "by" else self.desk.settings.by
        self.desk.use_settings(replace(settings, by=by))
        return ""
