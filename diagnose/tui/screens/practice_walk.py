"""A walk that is practised: its cards, as at a real door, and below each what can be done about it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from textual import work
from textual.widget import Widget

from diagnose.calls.words import Told
from diagnose.practice.acts import AnyAct
from diagnose.sitting.choices import Choice
from diagnose.sitting.practised import ELSE, act_of, jobs_to_choose, practice_card
from diagnose.tui.screens.choosing import ChoicePage, PickPage, lettered
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.screens.practice_run import WAYS, PracticeRun, done_paragraphs
from diagnose.tui.text import one_line, plain
from diagnose.tui.widgets.paragraphs import Paragraphs, paragraph
from diagnose.tui.widgets.pick_list import Row
from diagnose.tui.widgets.step_card import StepCard

_MORE = (("jobs", "Go to another job of the walk"), ("so far", "What happened so far"))


class PracticeWalk(PracticeRun):
    """The last act above, the card below it; what else can be done in practice is behind the card's own choices."""

    def offered(self) -> Widget:
        return StepCard(id="card")

    @property
    def _step(self) -> StepCard:
        return self.query_one(StepCard)

    def _offer(self) -> None:
        """The card has what can be done."""

    def _show(self, told: str = "") -> None:
        super()._show(told)
        acts = [each for done in self.session.done[-1:] for each in done_paragraphs(done)]
        self.query_one("#acts", Paragraphs).show(acts)
        self.query_one("#happened").display = bool(acts)
        if not self.session.is_over:
            card = practice_card(self.session)
            if card != self._step.card:
                self._step.show(card, self.session.call)

    def told_where(self) -> list[Told]:
        return self._step.told_where()

    def _press(self, key: str) -> bool:
        return self._step.press(key)

    def _choose_way(self, choice: Choice) -> None:
        card = self._step.card
        if choice.opens == ELSE:
            self._else()
        elif card is not None and choice.asks:
            self._ask(choice.asks, partial(act_of, self.session, card, choice.name))
        elif card is not None:
            self._do(act_of(self.session, card, choice.name))

    @work(exclusive=True, group="practice")
    async def _ask(self, asks: str, act: Callable[[str], AnyAct]) -> None:
        """The words that a choice asks for."""
        await self._do_in_words("The walk", asks, "in a few words", act)

    @work(exclusive=True, group="else")
    async def _else(self) -> None:
        page = ChoicePage("Practise › Something else", [paragraph(("What?", "bold"))], lettered([*_MORE, *WAYS]))
        chosen = await self.app.push_screen_wait(page)
        if chosen == "jobs":
            await self._pick_job()
        elif chosen == "so far":
            self.app.push_screen(ReadingPage("Practise › What happened so far", self._so_far()))
        elif chosen:
            self._take(chosen)

    async def _pick_job(self) -> None:
        jobs = jobs_to_choose(self.session)
        rows = [Row(act.job, plain(one_line(text))) for act, text in jobs]
        picked = await self.app.push_screen_wait(PickPage("Practise › Jobs", rows, "Type a word of the job"))
        for act, _ in jobs:
            if act.job == picked:
                self._do(act)

    def _finish(self) -> None:
        self.tell("The debriefing is being worked out.")
        self._step.wait()
        self._debrief()
