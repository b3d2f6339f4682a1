"""One check answered out of turn: something known already, a correction, a reading taken again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal, cast

from textual import events, on, work
from textual.widget import Widget

from diagnose.calls.words import Told, answer_in_words
from diagnose.sitting.cards import check_card
from diagnose.sitting.places import has_place, where
from diagnose.sitting.say import Answer
from diagnose.tui.saver import InHand
from diagnose.tui.screens.page import Page
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.reading import Reading
from diagnose.tui.widgets.step_card import StepCard

Mode = Literal["new", "again", "correction"]
_CRUMBS = {
    "new": "Call › I already know something",
    "again": "Call › Answers given › Measure again",
    "correction": "Call › Answers given › Change",
}


class AnswerPage(Page[str]):
    """Dismissed with what was taken down, once the answer is recorded."""

    def __init__(self, in_hand: InHand, check: str, mode: str) -> None:
        looked_at = mode == "again" and bool(in_hand.call.trees.checks[check].answers)
        super().__init__("Call › See for yourself" if looked_at else _CRUMBS[mode])
        self._in_hand, self._check, self._mode = in_hand, check, cast(Mode, mode)

    def body(self) -> Iterable[Widget]:
        yield StepCard()

    def on_mount(self) -> None:
        call = self._in_hand.call
        check = call.trees.checks[self._check]
        card = check_card(call, check)
        earlier = call.state.answers.get(self._check)
        if earlier is not None:
            from diagnose.screening.handover import still_to_see

            lines = [("So far", answer_in_words(check, earlier, self.desk.settings.units))]
            lines += [("Look again", each.why) for each in still_to_see(call) if each.check == self._check]
            card = replace(card, lines=tuple(lines))
        self.query_one(StepCard).show(
            card, lambda text: call.understand(self._check, text), has_place(call, "check", self._check)
        )

    def told_where(self) -> list[Told]:
        return where(self._in_hand.call, "check", self._check, self.size.width - 3)

    def on_key(self, event: events.Key) -> None:
        if event.character and self.query_one(StepCard).press(event.character):
            event.stop()

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self._record(event.choice.name)

    @on(Reading.Taken)
    def _taken(self, event: Reading.Taken) -> None:
        self._record(event.text)

    @work(exclusive=True)
    async def _record(self, text: str) -> None:
        act = Answer(check=self._check, text=text, mode=self._mode)
        told = await self.desk.say(self._in_hand, act)
        if told.refused:
            self.query_one(StepCard).say(f"✗ {told.refused}")
        else:
            self.dismiss(told.sentence)
