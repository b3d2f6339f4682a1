"""The first screen: calls left open, and what a door may do wrong, to begin a new call with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING

from textual import events, work

from diagnose.finding.reading import trade_reader
from diagnose.tui import actions
from diagnose.tui.desk import Stated
from diagnose.tui.keys import key_for
from diagnose.tui.rows import call_row, meant_rows, symptom_rows
from diagnose.tui.screens.page import ListPage
from diagnose.tui.text import one_line, plain
from diagnose.tui.widgets.pick_list import Row, RowShelf, heading

if TYPE_CHECKING:
    from diagnose.calls.store import CallSummary, Store
    from diagnose.tui.saver import InHand

_MOST_OPEN = 4


class Start(ListPage[None]):
    """Enter on a call left open goes on with it; on a symptom it begins a new call."""

    place = actions.START
    TITLE = "diagnose › Start"
    hint = "Type a word of what is wrong, or of a site"
    _open: Sequence[CallSummary] = ()
    # What is to be seen first of the calls left open that are listed, by their ids.
    _marks: Mapping[str, str] = {}
    # Until a key was pressed the list may put a call left open under the cursor.
    _untouched = True

    def on_mount(self) -> None:
        self.call_after_refresh(self.desk.first_screen_stands)
        if self.desk.asked:
            self._take_up()

    def on_screen_resume(self) -> None:
        self.pick_list.clear()
        self._untouched = True

    def on_key(self, event: events.Key) -> None:
        self._untouched = False

    def show_calls(self, told: str = "") -> None:
        """Put the calls left open above the symptoms; ``told`` is what has come of one."""
        desk = self.desk
        if desk.store is None:
            self.tell(f"Calls cannot be saved: {desk.store_problem}" if desk.store_problem else told)
        else:
            self.tell(told)
            self._read_calls(desk.store)

    @work(exclusive=True, group="calls")
    async def _read_calls(self, store: Store) -> None:
        # The list is a help; without it a new call can begin.
        calls = await self.worked_out(lambda: store.calls(open_only=True))
        if calls is None:
            return
        self._open = sorted(calls, key=lambda call: call.last_at, reverse=True)
        self._show_open()
        marks = await self.worked_out(lambda: self._marked(store, self._open[:_MOST_OPEN]))
        if marks and marks != self._marks:
            self._marks = marks
            self._show_open()

    def _marked(self, store: Store, calls: Sequence[CallSummary]) -> dict[str, str]:
        from diagnose.calls.call import Call
        from diagnose.sitting.handover import marked

        return {
            call.id: marked(Call(self.desk.trees, history=store.events(call.id))) for call in calls if not call.trouble
        }

    def _show_open(self) -> None:
        calls = self._open
        rows = [self._call_row(call) for call in calls[:_MOST_OPEN]]
        if len(calls) > _MOST_OPEN:
            rows.append(Row("calls", plain(f"{len(calls) - _MOST_OPEN} more: all calls ({key_for('history')})")))
        if rows:
            rows.insert(0, heading(f"CALLS LEFT OPEN: Enter goes on where it stopped, {key_for('end')} ends one", 0))
        highlight = rows[1].id if rows and self._untouched else None
        self.pick_list.show([*rows, *self.rows()], highlight)

    def _call_row(self, call: CallSummary) -> Row:
        return call_row(self.desk.trees, call, self._marks.get(call.id, ""))

    def found(self, typed: str) -> list[Row]:
        """Calls left open at a site so named, then what the door may do wrong, then calls that are like the words."""
        trees = self.desk.trees
        reader, calls = trade_reader(trees), [self._call_row(call) for call in self._open]
        walks = [row for row in self.rows() if row.id.startswith("walk:")]
        places = RowShelf(calls, reader, by_title=True).find(typed, whole=True)
        others = [row for row in RowShelf(calls, reader).find(typed, whole=True) if row not in places]
        walks = RowShelf(walks, reader, by_title=True).find(typed, whole=True)
        meant = meant_rows(trees, typed)
        kept = heading("CALLS LEFT OPEN", 0)
        return [*([kept] if places else []), *places, *walks, *meant, *([kept] if others else []), *others]

    def rows(self) -> list[Row]:
        trees, place = self.desk.trees, one_line(", ".join(filter(None, self.desk.where)))
        walks = [Row(f"walk:{walk.id}", plain(f"  {walk.title}"), walk.explain) for walk in trees.walks.values()]
        above = [heading("WORK AT A DOOR, done and proved in order", 0), *walks] if walks else []
        where = f" at {place}" if place else ""
        return [heading(f"NEW CALL{where}: what does the door do wrong?", 0), *symptom_rows(trees), *above]

    def picked(self, identity: str) -> None:
        kind, _, named = identity.partition(":")
        if kind == "call":
            self.tell(self.desk.resume(named))
        elif kind == "symptom":
            self.new_call(Stated(symptoms=tuple(named.split("+"))))
        elif kind == "walk":
            self.new_call(Stated(walk=named))
        else:
            self.action_calls()

    @work(exclusive=True, group="new call")
    async def new_call(self, asked: Stated) -> None:
        """The notice, the door, then the interview."""
        from diagnose.tui.screens.choosing import Notice
        from diagnose.tui.screens.door import Door

        if not await self.app.push_screen_wait(Notice()):
            return
        site, door = self.desk.where
        draft = replace(asked, people=self.desk.settings.people, site=asked.site or site, door=asked.door or door)
        await self.desk.store_tried.wait()

        async def begin_there(stated: Stated) -> InHand | str:
            moved = (stated.site, stated.door) != (draft.site, draft.door)
            return await self.desk.begin(self.desk.known(stated) if moved else stated)

        stated = await self.app.push_screen_wait(Door(self.desk.known(draft), begin=begin_there))
        if stated is not None:
            self.desk.open(stated)

    @work(exclusive=True, group="take up")
    async def _take_up(self) -> None:
        """Begin, or go on with, what was asked for on the command line."""
        await self.desk.store_tried.wait()
        asked = self.desk.asked
        if isinstance(asked, str):
            self.tell(self.desk.resume(asked))
        else:
            self.new_call(asked)

    @work(exclusive=True, group="end call")
    async def action_end(self) -> None:
        """End the call left open that is highlighted, with a reason."""
        from diagnose.tui.screens.sentence import end_call

        self.show_calls(await end_call(self, self.pick_list.highlighted, "Start"))

    def action_calls(self) -> None:
        from diagnose.tui.screens.calls import Calls

        self.app.push_screen(Calls())

    def action_open_screen(self, where: str) -> None:
        module, _, name = where.partition(":")
        self.app.push_screen(getattr(import_module(f"diagnose.tui.screens.{module}"), name)())

    def action_back(self) -> None:
        self.pick_list.clear()
