"""The doors that are kept: found by a few letters, read, and a call begun on one."""

from __future__ import annotations

from datetime import UTC, datetime

from textual import work

from diagnose.calls.doors import DoorFound, DoorRecord
from diagnose.calls.doors import Doors as KeptDoors
from diagnose.sitting.door_record import keep_new, kept_in_words, with_history
from diagnose.tui import actions
from diagnose.tui.desk import Stated
from diagnose.tui.keys import key_for
from diagnose.tui.saver import sentence_of
from diagnose.tui.screens.choosing import ChoicePage, lettered
from diagnose.tui.screens.door import Door
from diagnose.tui.screens.page import ListPage
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.paragraphs import told_paragraphs
from diagnose.tui.widgets.pick_list import Row


class Doors(ListPage[None]):
    """Enter shows a door, and a call can be begun on it."""

    place = actions.DOORS

    TITLE = "diagnose › Doors"
    hint = "Type a few letters of a site or a door"
    # What came of the last thing that was done; it is said once.
    _said = ""

    @work(exclusive=True, group="doors")
    async def on_screen_resume(self) -> None:
        await self.desk.store_tried.wait()
        rows = self.found("")
        self.pick_list.show(rows)
        if rows:
            self.tell(self._said or "Enter shows what is known of a door, and its calls.")
        elif self.desk.store is not None:
            self.tell(f"No door is kept yet: {key_for('add')} adds one, and a closed call offers to keep its own.")
        self._said = ""

    def found(self, typed: str) -> list[Row]:
        doors = self._doors()
        if doors is None:
            return []
        try:
            return [_row(door) for door in doors.search(typed)]
        except Exception as error:
            self.tell(sentence_of(error))
            return []

    def _doors(self) -> KeptDoors | None:
        if self.desk.store is None:
            self.tell(self.desk.store_problem or "The doors are not open yet.")
            return None
        return KeptDoors.of(self.desk.store)

    @work(exclusive=True, group="add")
    async def action_add(self) -> None:
        if (doors := self._doors()) is None:
            return

        async def keep(stated: Stated) -> str:
            record = DoorRecord(site=stated.site, name=stated.door, facts=stated.facts)
            try:
                self._said = kept_in_words(keep_new(self.desk.trees, doors, record, self.desk.settings.by))
            except Exception as error:
                return sentence_of(error)
            return ""

        await self.app.push_screen_wait(Door(Stated(), begin=keep, kept=True))

    @work(exclusive=True, group="door")
    async def picked(self, identity: str) -> None:
        doors = self._doors()
        if doors is None:
            return
        try:
            known = doors.latest(identity.partition(":")[2])
            now = self.desk.clock() if self.desk.clock else datetime.now(UTC)
            words = told_paragraphs(with_history(self.desk.trees, doors, known, now, self.desk.settings.units))
        except Exception as error:
            self.tell(sentence_of(error))
            return
        ways = lettered([("here", "Begin a call, or work, on this door"), ("back", "Back to the doors")])
        if await self.app.push_screen_wait(ChoicePage("Doors › A door", words, ways)) == "here":
            self.desk.where = (known.record.site, known.record.name)
            self.desk.show_calls()
            self.dismiss(None)


def _row(door: DoorFound) -> Row:
    place = assemble(("  " + one_line(door.site or "no site"), "bold"), f"  {one_line(door.name)}")
    return Row(f"door:{door.id}", place, f"{door.site} {door.name} {door.id}")
