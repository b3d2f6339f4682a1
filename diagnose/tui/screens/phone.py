"""A phone call: danger first, where, what is wrong, then a few questions read out, and at the end the sheet.

Everything the caller is told or asked is in their language; what stands around it is for the person at the keys.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from functools import partial
from typing import TYPE_CHECKING

from textual import events, on, work
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from diagnose.knowledge.model import COULD_NOT_TELL
from diagnose.screening.spoken import Spoken, next_language
from diagnose.tui import actions
from diagnose.tui.cards import KEYS, Choice
from diagnose.tui.in_hand import InHand
from diagnose.tui.saver import sentence_of
from diagnose.tui.screens.page import Page
from diagnose.tui.screens.phone_complaint import ComplaintPage
from diagnose.tui.screens.phone_danger import DangerPage, InstructionPage
from diagnose.tui.screens.phone_sheet import SheetPage
from diagnose.tui.screens.phone_where import WherePage
from diagnose.tui.text import assemble, fit, minutes, one_line, plain, show_line, stack
from diagnose.tui.view import symptom_title
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.instruction import alarm_lines
from diagnose.tui.widgets.title_bar import TitleBar

if TYPE_CHECKING:
    from diagnose.calls.call import Call
    from diagnose.knowledge.model import Van
    from diagnose.screening.danger import Raised
    from diagnose.screening.interview import Question
    from diagnose.screening.sheet import Sheet

_NOT_KNOWN = "0"


class PhoneScreen(Page[None]):
    """The questions of a phone call; before the first of them come the pages for danger, place and complaint.

    ``kept`` is a call to go on with.
    """

    place = actions.PHONE
    BINDINGS = actions.bindings(actions.PHONE)

    class Drawn(Message):
        """A sheet of the call as it stood after ``turn`` things were said, or why there is none."""

        def __init__(self, turn: int, sheet: Sheet | None, trouble: str = "") -> None:
            super().__init__()
            self.turn, self.sheet, self.trouble = turn, sheet, trouble

    def __init__(self, kept: str = "", language: str = "", van: str = "") -> None:
        super().__init__("Phone call")
        self._kept, self._language, self._van_name = kept, language, van
        self._in_hand: InHand | None = None
        self.question: Question | None = None
        self.sheet: Sheet | None = None
        self._held: tuple[str, ...] = ()
        self._plain = False
        self._told: set[str] = set()
        self._turn = 0
        self._busy = True
        # One thing at a time is put on record, the beginning of the call before all else.
        self._recording = asyncio.Lock()

    def body(self) -> Iterable[Widget]:
        yield Static(id="alarm", markup=False)
        with VerticalScroll(id="words", can_focus=False):
            yield Static(id="ask", markup=False)
        yield Static(id="trouble", markup=False)
        yield Choices()
        yield Input(id="number", max_length=40)
        yield Static(id="stands", markup=False)

    def on_mount(self) -> None:
        for name in ("#alarm", "#trouble", "#number"):
            self.query_one(name).display = False
        if not self._language and self.desk.settings.language in self.desk.trees.languages:
            self._language = self.desk.settings.language
        self._take_call()

    # --- the call ------------------------------------------------------------------------------------------

    @property
    def call(self) -> Call:
        assert self._in_hand is not None
        return self._in_hand.call

    @property
    def van(self) -> Van:
        from diagnose.screening.needs import first_van

        return first_van(self.desk.trees, self._van_name)

    @property
    def spoken(self) -> Spoken:
        return Spoken(self.desk.trees, self._language)

    @work(exclusive=True, group="phone")
    async def _take_call(self) -> None:
        """From the first ring to the first question."""
        if self._kept:
            wrong = await self._resume()
            if wrong:
                self._say(wrong)
                return
        if self._in_hand is None or not self.call.state.dangers:
            answered = await self.app.push_screen_wait(DangerPage(self._language, {}, self._state_dangers))
            if answered is None:
                self.dismiss(None)
                return
            self._language = answered
        await self._go_on()

    async def _resume(self) -> str:
        from diagnose.calls.call import Call

        desk = self.desk
        await desk.store_tried.wait()
        if desk.store is None:
            return desk.store_problem
        try:
            history = list(desk.store.events(self._kept))
        except Exception as error:
            return sentence_of(error)
        saver = desk.saver(self._kept)
        call = Call(desk.trees, history=history, recorder=saver, by=desk.settings.by, clock=desk.clock)
        desk.in_hand = self._in_hand = InHand(call, saver)
        return ""

    async def _state_dangers(self, answers: dict[str, bool]) -> str:
        """Put down what was said of each sign; the call begins with it."""
        async with self._recording:
            return await self._record_dangers(answers)

    async def _record_dangers(self, answers: dict[str, bool]) -> str:
        if self._in_hand is None:
            from diagnose.tui.screens.door import Stated

            begun = await self.desk.begin(Stated(people=self.desk.settings.people))
            if isinstance(begun, str):
                return begun
            self.desk.in_hand = self._in_hand = InHand(*begun)
        call, now = self.call, self.call.state.dangers
        for danger, there in answers.items():
            word = "yes" if there else "no"
            if now.get(danger) != word:
                wrong = await self._attempt(partial(call.danger, danger, word))
                if wrong:
                    return wrong
        self._told |= {danger for danger, there in answers.items() if there}
        return ""

    async def _attempt(self, change: Callable[[], object]) -> str:
        assert self._in_hand is not None
        return await self.desk.attempt(self._in_hand.saver, change)

    async def _go_on(self) -> None:
        """Whatever is still open before the next question, then that."""
        state = self.call.state
        if not (state.site or state.door) and not state.symptoms:
            await self.app.push_screen_wait(WherePage(self._state_place))
        if not self.call.state.symptoms and not await self._ask_complaint():
            return
        await self._warn()
        self._show_next()

    async def _state_place(self, site: str, door: str, caller: str) -> str:
        wrong = ""
        if site or door:
            wrong = await self._attempt(lambda: self.call.state_place(site, door))
        if caller and not wrong:
            wrong = await self._attempt(lambda: self.call.note(f"Caller: {caller}"))
        return wrong

    async def _ask_complaint(self) -> bool:
        from diagnose.screening.danger import dangers_now

        raised = dangers_now(self.desk.trees, self.call.events)
        likely = [symptom for each in raised for symptom in each.danger.symptoms]
        chosen = await self.app.push_screen_wait(ComplaintPage(self._language, likely, self._keep_words))
        if chosen is None:
            self._leave()
            return False
        wrong = await self._attempt(lambda: self.call.state_symptoms([chosen]))
        if wrong:
            self._say(wrong)
        return not wrong

    async def _keep_words(self, text: str) -> tuple[Raised, ...]:
        """Keep what the caller said word for word; gives back the dangers heard in it."""
        from diagnose.screening.danger import note_dangers

        new: list[Raised] = []
        await self._attempt(lambda: self.call.note(text))
        await self._attempt(lambda: new.extend(note_dangers(self.call)))
        self._told |= {each.danger.id for each in new}
        return tuple(new)

    async def _warn(self) -> None:
        """Put each danger that came up since on record, and read out at once what to do."""
        from diagnose.screening.danger import dangers_now, note_dangers

        await self._attempt(lambda: note_dangers(self.call))
        raised = dangers_now(self.desk.trees, self.call.events)
        new = [each for each in raised if each.danger.id not in self._told]
        self._told = {each.danger.id for each in raised}
        if new:
            await self.app.push_screen_wait(InstructionPage(self._language, new))
        self.query_one("#alarm", Static).update(alarm_lines(raised))
        self.query_one("#alarm").display = bool(raised)

    # --- asking --------------------------------------------------------------------------------------------

    def _show_next(self) -> None:
        from diagnose.screening.interview import next_question

        self._turn += 1
        self._busy = False
        self._held, self._plain = (), False
        self.query_one(TitleBar).show(self._title())
        try:
            self.question = next_question(self.call, self.van)
        except Exception as error:
            # Whatever the reasoning stumbles over, the call is kept and what was said last can be undone.
            self.question = None
            self._say(f"The next question could not be worked out: {sentence_of(error)} Undo (u), or the sheet (s).")
        self._draw(self._turn, self._in_hand.twin() if self._in_hand else self.call, self.van)
        self._paint()
        if self.question is None:
            self.action_sheet()

    def _title(self) -> str:
        state = self.call.state
        where = ", ".join(filter(None, (state.site, state.door)))
        complaint = "; ".join(symptom_title(self.desk.trees, symptom) for symptom in state.symptoms)
        return " · ".join(filter(None, ("Phone", where, complaint)))

    def _paint(self) -> None:
        question, choices, number = self.question, self.query_one(Choices), self.query_one("#number", Input)
        self._say("")
        number.display = question is not None and not question.answers
        if question is None:
            choices.show(())
            self.query_one("#ask", Static).update(Content(""))
            return
        spoken = self.spoken
        lines = [assemble(("READ OUT  ", "bold $text-accent"), (spoken.question(question), "bold"))]
        if self._plain:
            lines += [
                Content(""),
                assemble(("IN OTHER WORDS  ", "bold $text-accent"), (spoken.question_plain(question), "bold")),
            ]
        lines.append(Content(""))
        if question.many:
            lines.append(plain("Each key ticks or unticks one. Enter goes on.", "$text-muted"))
        lines.append(plain(f"It may change: {_may_change(self.call, question)}", "$text-muted"))
        self.query_one("#ask", Static).update(stack(lines))
        answers = zip(KEYS, question.answers, spoken.answers(question), strict=False)
        shown = [Choice(key, text, answer) for key, answer, text in answers]
        shown.append(Choice(_NOT_KNOWN, spoken.phrase("phone.could-not-tell"), COULD_NOT_TELL))
        choices.show(tuple(shown), self._held if question.many else None, keep=self._plain)
        if number.display:
            number.placeholder = "a number, then Enter; ? for not known"
            number.focus(scroll_visible=False)
        else:
            choices.focus(scroll_visible=False)

    def on_key(self, event: events.Key) -> None:
        question = self.question
        if self._busy or question is None:
            return
        if event.key == "enter" and question.many and self._held:
            event.stop()
            self._take(self._held)
        elif event.character and not isinstance(self.focused, Input):
            for choice in self.query_one(Choices).choices:
                if choice.key == event.character:
                    event.stop()
                    self.query_one(Choices).press(event.character)
                    return

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        event.stop()
        question, name = self.question, event.choice.name
        if self._busy or question is None:
            return
        if question.many and name != COULD_NOT_TELL:
            held = {*self._held} ^ {name}
            self._held = tuple(answer for answer in question.answers if answer in held)
            self.query_one(Choices).show(self.query_one(Choices).choices, self._held, keep=True)
        else:
            self._take(name)

    @on(Input.Submitted, "#number")
    def _number(self, event: Input.Submitted) -> None:
        event.stop()
        if event.value.strip() and not self._busy:
            self._take(event.value.strip())

    @work(exclusive=True, group="phone")
    async def _take(self, answer: str | tuple[str, ...]) -> None:
        from diagnose.screening.interview import take

        question = self.question
        assert question is not None
        self._busy = True
        wrong = await self._attempt(lambda: take(self.call, question, answer))
        if wrong:
            self._busy = False
            self._say(f"✗ {wrong}")
            return
        self.query_one("#number", Input).value = ""
        await self._warn()
        self._show_next()

    # --- how it stands -------------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="think", exit_on_error=False)
    def _draw(self, turn: int, call: Call, van: Van) -> None:
        from diagnose.screening.sheet import make_sheet

        try:
            self.post_message(self.Drawn(turn, make_sheet(call, van)))
        except Exception as error:
            self.post_message(self.Drawn(turn, None, sentence_of(error)))

    @on(Drawn)
    def _drawn(self, event: Drawn) -> None:
        if event.turn != self._turn:
            return
        self.sheet = event.sheet
        line = self.query_one("#stands", Static)
        if event.sheet is None:
            line.update(plain(f"The sheet could not be worked out: {event.trouble}"))
        else:
            width = max(self.size.width - 2, 20)
            line.update(stack(fit(each, width) for each in standing_lines(event.sheet)))
        for screen in self.app.screen_stack:
            if isinstance(screen, SheetPage):
                screen.show(self.sheet)

    # --- actions -------------------------------------------------------------------------------------------

    def action_meaning(self) -> None:
        self._plain = not self._plain
        self._paint()

    def action_language(self) -> None:
        self._language = next_language(self.desk.trees.languages, self._language)
        self._paint()

    @work(exclusive=True, group="phone")
    async def action_danger(self) -> None:
        if self._in_hand is None:
            return
        now = {danger: answer == "yes" for danger, answer in self.call.state.dangers.items()}
        await self.app.push_screen_wait(DangerPage(self._language, now, self._state_dangers))
        await self._warn()
        self._show_next()

    @work(exclusive=True, group="phone")
    async def action_undo(self) -> None:
        from diagnose.screening.handover import take_back

        if self._in_hand is None or self._busy:
            return
        await self._attempt(lambda: take_back(self.call))
        await self._go_on()

    @work(exclusive=True, group="phone")
    async def action_note(self) -> None:
        from diagnose.tui.screens.sentence import SentencePage

        async def keep(text: str) -> str:
            if not text.strip():
                return "Nothing was typed. Esc goes back without a note."
            return await self._attempt(lambda: self.call.note(text))

        ask = "What did the caller say besides? Words of danger in it are heard."
        if self._in_hand is not None and await self.app.push_screen_wait(
            SentencePage("Phone call › Note", ask, "their words, then Enter", keep)
        ):
            await self._warn()
            self._show_next()

    @work(exclusive=True, group="phone")
    async def action_sheet(self) -> None:
        if self._in_hand is None or not self.call.state.symptoms:
            return
        page = SheetPage(self._in_hand, self.sheet, self._language)
        if await self.app.push_screen_wait(page):
            self._leave()

    def action_back(self) -> None:
        """The call stays open; what was said is kept."""
        if self._in_hand is not None and not self._in_hand.saver.safe:
            from diagnose.tui.screens.quit import QuitUnsaved

            self.app.push_screen(QuitUnsaved(self._in_hand.saver), lambda sure: self._leave() if sure else None)
        else:
            self._leave()

    def _leave(self) -> None:
        from diagnose.tui.screens.start import Start

        self.desk.in_hand = None
        self.dismiss(None)
        for screen in self.app.screen_stack:
            if isinstance(screen, Start):
                screen.show_calls()

    def _say(self, sentence: str) -> None:
        show_line(self.query_one("#trouble", Static), sentence)


def _may_change(call: Call, question: Question) -> str:
    """What of the sheet hangs on the answer, in a few words."""
    from diagnose.calls.words import title

    kinds = {"person": "people", "access": "access"}
    parts = sum(need.kind == "parts" for need in question.may_change)
    named = [title(call.trees, kinds[need.kind], need.id) for need in question.may_change if need.kind in kinds]
    named += [need.kind for need in question.may_change if need.kind == "second person"]
    if any(need.kind == "danger" for need in question.may_change) or not question.may_change:
        named.append("how soon")
    if parts:
        named.append(f"the parts of {parts} repair{'' if parts == 1 else 's'}")
    return ", ".join(name.removeprefix("from ") for name in named)


def standing_lines(sheet: Sheet) -> list[Content]:
    """The sheet in three lines, while questions are still asked."""
    from diagnose.screening.paper import crew_in_words, reach_in_words

    likely = " · ".join(f"{100 * each.probability:.0f} % {one_line(each.title)}" for each in sheet.likely[:2])
    kinds = len(sheet.load.loads)
    return [
        assemble(("As it stands  ", "bold"), (sheet.urgency, "bold"), f" · {'; '.join(sheet.reasons)}"),
        assemble(f"{crew_in_words(sheet)} · from {reach_in_words(sheet)}"),
        assemble(f"{kinds} kind{'' if kinds == 1 else 's'} of part · about {minutes(sheet.minutes.median)} · {likely}"),
    ]
