"""The answers given, and one check answered out of turn: known already, corrected, or a reading taken again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, cast

from textual import on, work
from textual.content import Content

from diagnose.calls.words import answer_in_words
from diagnose.sitting.cards import check_card
from diagnose.sitting.say import Answer, TakeBack
from diagnose.sitting.view import TrailItem, Units, view_of
from diagnose.tui import actions
from diagnose.tui.saver import InHand
from diagnose.tui.screens.choosing import CardPage
from diagnose.tui.screens.page import ListPage
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.pick_list import Row
from diagnose.tui.widgets.reading import Reading
from diagnose.tui.widgets.step_card import StepCard
from diagnose.tui.widgets.trail import sign_of

Mode = Literal["new", "again", "correction"]
_CRUMBS = {
    "new": "Call › I already know something",
    "again": "Call › Answers given › Measure again",
    "correction": "Call › Answers given › Change",
}


class Answers(ListPage[bool]):
    """Dismissed with whether anything was changed."""

    place = actions.TRAIL
    TITLE = "Call › Answers given"
    ask = "Enter changes the answer."

    def __init__(self, in_hand: InHand) -> None:
        super().__init__()
        self._in_hand = in_hand
        self._changed = False
        self._items: dict[str, TrailItem] = {}

    def on_mount(self) -> None:
        self._fill()

    def _fill(self) -> None:
        view = view_of(self._in_hand.call, self.desk.settings.units)
        self._items = dict(reversed(_keyed(view.trail).items()))
        rows = [Row(key, _line(item, item.id == view.doubtful), set_in=8) for key, item in self._items.items()]
        self.pick_list.show(rows)
        self.tell("" if rows else "Nothing has been answered yet.")

    def _here(self) -> TrailItem | None:
        return self._items.get(self.pick_list.highlighted)

    def picked(self, identity: str) -> object:
        return self._answer(self._items[identity], "correction")

    def action_again(self) -> None:
        item = self._here()
        if item is None:
            return
        check = self._in_hand.call.trees.checks.get(item.id) if item.kind == "answer" else None
        if check is None or (check.answers and not item.look_again):
            self.tell("Only a reading can be measured again. Enter changes an answer.")
        else:
            self._answer(item, "again")

    @work(exclusive=True)
    async def action_withdraw(self) -> None:
        item = self._here()
        if item is None:
            return
        if item.kind != "answer":
            self.tell("What was done cannot be withdrawn here. Undo (u) in the call undoes the last thing said.")
            return
        told = await self.desk.say(self._in_hand, TakeBack(check=item.id))
        self._changed = self._changed or not told.refused
        self._fill()
        self.tell(told.refused or told.sentence)

    @work(exclusive=True)
    async def _answer(self, item: TrailItem, mode: str) -> None:
        if item.kind != "answer" or item.id not in self._in_hand.call.trees.checks:
            self.tell("Only answers can be changed here. Undo (u) in the call undoes the last thing said.")
            return
        if told := await self.app.push_screen_wait(AnswerPage(self._in_hand, item.id, mode, self.desk.settings.units)):
            self._changed = True
            self._fill()
            self.tell(told)

    def action_back(self) -> None:
        self.dismiss(self._changed)


class AnswerPage(CardPage):
    """Dismissed with what was taken down, once the answer is recorded."""

    def __init__(self, in_hand: InHand, check: str, mode: str, units: Units) -> None:
        call, entry = in_hand.call, in_hand.call.trees.checks[check]
        card, earlier = check_card(call, entry), call.state.answers.get(check)
        if earlier is not None:
            from diagnose.screening.handover import still_to_see

            lines = [("So far", answer_in_words(entry, earlier, units))]
            lines += [("Look again", each.why) for each in still_to_see(call) if each.check == check]
            card = replace(card, lines=tuple(lines))
        looked_at = mode == "again" and bool(entry.answers)
        super().__init__("Call › See for yourself" if looked_at else _CRUMBS[mode], call, card)
        self._in_hand, self._check, self._mode = in_hand, check, cast(Mode, mode)

    @on(Reading.Taken)
    def _taken(self, event: Reading.Taken) -> None:
        self.take(event.text)

    @work(exclusive=True)
    async def take(self, text: str) -> None:
        act = Answer(check=self._check, text=text, mode=self._mode)
        told = await self.desk.say(self._in_hand, act)
        if told.refused:
            self.query_one(StepCard).say(f"✗ {told.refused}")
        else:
            self.dismiss(told.sentence)


def _keyed(trail: Sequence[TrailItem]) -> dict[str, TrailItem]:
    """Each item by what it is about and the how manieth of that, so that a change does not move the cursor."""
    keyed: dict[str, TrailItem] = {}
    for item in trail:
        earlier = sum((item.kind, item.id) == (other.kind, other.id) for other in keyed.values())
        keyed[f"{item.kind} {item.id} {earlier}"] = item
    return keyed


def _line(item: TrailItem, doubtful: bool) -> Content:
    odd = ("  ? sits ill with the rest", "bold") if doubtful else ""
    look = ("  ? see for yourself", "bold $text-warning") if item.look_again else ""
    return assemble(f"{item.at} {sign_of(item)} ", one_line(item.title), "  ", (one_line(item.said), "bold"), odd, look)
