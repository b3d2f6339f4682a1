"""A phone call on the screens: danger first, where, what is wrong, then a few questions read out, and the sheet.

Everything the caller is told or asked is in their language; what stands around it is for the person at the keys. How
the call goes is ``sitting.phone``'s; here it is only shown and typed in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from textual import events, on, work
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Static

from diagnose.calls.words import Told, title
from diagnose.knowledge.model import COULD_NOT_TELL
from diagnose.screening.interview import Question
from diagnose.screening.sheet import Sheet
from diagnose.sitting import phone as course
from diagnose.sitting.choices import KEYS, Choice
from diagnose.sitting.phone import Move
from diagnose.sitting.places import has_place, where_to_look
from diagnose.tui import actions
from diagnose.tui.keys import key_for
from diagnose.tui.screens.phone_asked import ComplaintPage, SignsPage, WherePage
from diagnose.tui.screens.phone_page import PhonePage, Talk
from diagnose.tui.screens.phone_sheet import SheetPage, standing_lines
from diagnose.tui.screens.saving import QuitUnsaved
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.text import assemble, fit, plain, stack
from diagnose.tui.widgets.asked import Asked
from diagnose.tui.widgets.card_layout import where_hint
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.line import Line

_NOT_KNOWN = "0"


class PhoneScreen(PhonePage[None]):
    """The questions of a phone call; before the first of them come the pages for danger, place and complaint.

    ``kept`` is a call to go on with; ``site`` and ``door`` are where a new one is, as far as that is known.
    """

    place = actions.PHONE
    way_on = "call --plain"

    def __init__(self, kept: str = "", language: str = "", van: str = "", site: str = "", door: str = "") -> None:
        super().__init__("Phone call")
        self._kept, self._given = kept, (language, van, site, door)
        self._put: course.Put | None = None
        self._sheet: Sheet | None = None
        self._ticked: tuple[str, ...] = ()
        self._plain = False
        self._busy = True

    def asked(self) -> Iterable[Widget]:
        yield Asked(Static(id="ask", markup=False), Choices())
        yield Line(id="trouble")
        yield Input(id="number", max_length=40)
        yield Static(id="stands", markup=False)

    def on_mount(self) -> None:
        self.query_one("#number").display = False
        self.talk = Talk(self.desk, *self._given)
        self._take_call()

    # --- the call ------------------------------------------------------------------------------------------

    @property
    def phone(self) -> course.Phone:
        return self.talk.phone

    @property
    def question(self) -> Question | None:
        return self._put.question if isinstance(self._put, course.AskQuestion) else None

    @work(exclusive=True, group="phone")
    async def _take_call(self) -> None:
        if self._kept:
            self.tell(await self.talk.take_up(self._kept))
            if self.talk.in_hand is None:
                return
        await self.talk.read_out()
        await self._go_on()

    def told_where(self) -> list[Told]:
        question = self.question
        if question is None or question.kind != "check":
            return []
        return where_to_look(self.phone.call, question.id, self.talk.spoken, self.size.width - 3)

    def paint_all(self) -> None:
        if self._put is not None:
            super().paint_all()

    async def _do(self, act: course.Act) -> bool:
        """Take something down; false, with the reason on the screen, where it could not."""
        wrong = await self.talk.say(act)
        self.refuse(wrong)
        return not wrong

    async def _go_on(self) -> None:
        """Whatever is asked on a page of its own, one after another; then a question on this one, or the sheet."""
        while True:
            put = self.phone.put()
            page: SignsPage | WherePage | ComplaintPage
            match put:
                case course.AskSigns():
                    page = SignsPage(self.talk, put)
                case course.AskPlace():
                    page = WherePage(self.talk, put)
                case course.AskComplaint():
                    page = ComplaintPage(self.talk)
                case course.Over():
                    self._leave()
                    return
                case _:
                    break
            came = await self.app.push_screen_wait(page)
            if came == "back":
                if self.talk.in_hand is not None:
                    self.tell(await self.talk.say(Move.TAKE_BACK))
            elif came is None:
                if isinstance(put, course.AskSigns) and all(sign.id in put.there for sign in put.signs):
                    await self.talk.say(Move.LEAVE_SIGNS)
                else:
                    self._leave()
                    return
        self._show(put)
        if not isinstance(put, course.AskQuestion):
            self.action_open_sheet()

    # --- asking --------------------------------------------------------------------------------------------

    def _show(self, put: course.Put) -> None:
        self._put, self._busy, self._ticked, self._plain = put, False, (), False
        self.crumb = self._title()
        self.tell("")
        self._draw()
        self.paint_all()
        self.query_one(Asked).put()
        if isinstance(put, course.ShowSheet):
            self.tell(put.trouble)

    def _title(self) -> str:
        state = self.phone.call.state
        where = ", ".join(filter(None, (state.site, state.door)))
        complaint = "; ".join(title(self.desk.trees, "symptoms", symptom) for symptom in state.symptoms)
        return " · ".join(filter(None, ("Phone", where, complaint)))

    def paint(self) -> None:
        put, choices, number = self._put, self.query_one(Choices), self.query_one("#number", Input)
        if not isinstance(put, course.AskQuestion):
            number.display = False
            choices.show(())
            self.query_one("#ask", Static).update(Content(""))
            return
        question, spoken = put.question, self.talk.spoken
        number.display = not question.answers
        choices.enter_goes_on = question.many
        lines = [_read_out("READ OUT", spoken.question(question))]
        if self._plain:
            lines += [Content(""), _read_out("IN OTHER WORDS", spoken.question_plain(question))]
        lines.append(Content(""))
        if question.many:
            lines.append(plain("Each key ticks or unticks one. Enter goes on.", "$text-muted"))
        found = question.kind == "check" and has_place(self.phone.call, "check", question.id)
        why = f"It may change: {put.may_change}{f' · {where_hint()}' if found else ''}"
        lines.append(plain(why, "$text-muted"))
        self.query_one("#ask", Static).update(stack(lines))
        answers = zip(KEYS, question.answers, spoken.answers(question), strict=False)
        shown = [Choice(key, text, answer) for key, answer, text in answers]
        shown.append(Choice(_NOT_KNOWN, spoken.phrase("phone.could-not-tell"), COULD_NOT_TELL))
        choices.show(tuple(shown), self._ticked if question.many else None, keep=self._plain)
        if number.display:
            number.placeholder = "a number, then Enter; ? for not known"
            number.focus(scroll_visible=False)
        else:
            choices.focus(scroll_visible=False)

    def on_key(self, event: events.Key) -> None:
        if self._busy or self.question is None or not event.character or isinstance(self.focused, Input):
            return
        choices = self.query_one(Choices)
        if any(choice.key == event.character for choice in choices.choices):
            event.stop()
            if not self.query_one(Asked).read_on():
                choices.press(event.character)

    @on(Choices.Entered)
    def _entered(self) -> None:
        if not self.query_one(Asked).read_on() and self._ticked and not self._busy:
            self._answer(self._ticked)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        question, name = self.question, event.choice.name
        if self._busy or question is None:
            return
        if question.many and name != COULD_NOT_TELL:
            held = {*self._ticked} ^ {name}
            self._ticked = tuple(answer for answer in question.answers if answer in held)
            self.query_one(Choices).show(self.query_one(Choices).choices, self._ticked, keep=True)
        else:
            self._answer(name)

    @on(Input.Submitted, "#number")
    def _number(self, event: Input.Submitted) -> None:
        typed = event.value.strip()
        if typed and not self._busy:
            self._answer(COULD_NOT_TELL if typed == "?" else typed)

    @work(exclusive=True, group="phone")
    async def _answer(self, answer: str | tuple[str, ...]) -> None:
        question = self.question
        assert question is not None
        self._busy = True
        if not await self._do(course.SayAnswer(question, answer)):
            self._busy = False
            return
        self.query_one("#number", Input).value = ""
        await self._go_on()

    # --- how it stands -------------------------------------------------------------------------------------

    @work(exclusive=True, group="think")
    async def _draw(self) -> None:
        """The sheet as it stands, worked out in a thread."""
        after = len(self.phone.call.events)
        sheet = await self.worked_out(self.phone.twin().sheet)
        if after != len(self.phone.call.events):
            return
        self._sheet = sheet
        line = self.query_one("#stands", Static)
        if sheet is None:
            line.update(plain("The sheet could not be worked out."))
        else:
            self.phone.keep_sheet(sheet, after)
            lines, cut = standing_lines(sheet), self.has_class("-short")
            line.update(stack(fit(each, self.size.width - 2) if cut else each for each in lines))
        for screen in self.app.screen_stack:
            if isinstance(screen, SheetPage):
                screen.show(sheet)

    # --- actions -------------------------------------------------------------------------------------------

    def action_meaning(self) -> None:
        self._plain = not self._plain
        self.paint()

    def action_danger(self) -> None:
        self._do_and_go_on(Move.SEE_SIGNS)

    def action_undo(self) -> None:
        self._do_and_go_on(Move.TAKE_BACK)

    def action_sheet(self) -> None:
        self._do_and_go_on(Move.ENOUGH)

    @work(exclusive=True, group="phone")
    async def _do_and_go_on(self, act: course.Act) -> None:
        if self.talk.in_hand is not None and not self._busy and await self._do(act):
            await self._go_on()

    @work(exclusive=True, group="phone")
    async def action_note(self) -> None:
        ask = "What did the caller say besides? Words of danger in it are heard."
        await self._ask_sentence("Phone call › Note", ask, "their words", course.SayWords)

    @work(exclusive=True, group="phone")
    async def action_end(self) -> None:
        ask = "Why does nobody go? The call ends with this reason, and leaves the calls that are open."
        await self._ask_sentence("Phone call › End", ask, "the reason", course.End)

    async def _ask_sentence(self, crumb: str, ask: str, hint: str, act: Callable[[str], course.Act]) -> None:
        if self.talk.in_hand is None:
            return
        if await self.app.push_screen_wait(
            SentencePage(crumb, ask, lambda text: self.talk.say(act(text.strip())), hint)
        ):
            await self._go_on()

    @work(exclusive=True, group="phone")
    async def action_open_sheet(self) -> None:
        """The sheet; back from it is to the questions, or to what was said last."""
        if self.talk.in_hand is None:
            return
        page = SheetPage(self.talk.in_hand.call, self.talk.in_hand.saver.call_id, self._sheet, self.talk.language)
        if await self.app.push_screen_wait(page):
            if await self._do(Move.HAND_OVER):
                self._leave("Passed on: the call stands in the list, for whoever goes to the door.")
        elif self.phone.enough:
            self._do_and_go_on(Move.TAKE_BACK)
        else:
            self.tell(f"No more questions. The sheet is {key_for('go-on')}; u undoes the last answer.")

    def action_back(self) -> None:
        """The call stays open; what was said is kept."""
        if self.talk.in_hand is not None and not self.talk.in_hand.saver.safe:
            self.app.push_screen(QuitUnsaved(self.talk.in_hand.saver), lambda sure: self._leave() if sure else None)
        else:
            self._leave()

    def _leave(self, told: str = "") -> None:
        self.desk.in_hand = None
        self.dismiss(None)
        self.desk.show_calls(told)

    def tell(self, sentence: str) -> None:
        self.query_one("#trouble", Line).say(sentence)


def _read_out(label: str, text: str) -> Content:
    return assemble((f"{label}  ", "bold $text-accent"), (text, "bold"))
