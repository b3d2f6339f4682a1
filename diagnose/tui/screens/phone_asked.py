"""The pages of a phone call that come before its questions: signs of danger, where the door is, what is wrong."""

from __future__ import annotations

from collections.abc import Iterable

from textual import events, on, work
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static

from diagnose.knowledge.model import Danger
from diagnose.sitting import phone as course
from diagnose.sitting.choices import KEYS, Choice
from diagnose.tui import actions
from diagnose.tui.screens.phone_page import AskedPage, Talk
from diagnose.tui.text import assemble, one_line, plain, printable, stack
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.instruction import ReadOuts
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.paragraphs import hanging
from diagnose.tui.widgets.pick_list import PickList, Row

# Lines that a page keeps for its title, its keys and what went wrong, and cells beside a sign.
_KEPT_LINES, _KEPT_CELLS = 3, 4
_NO_ROOM = "There is no room here to ask about danger. Make the window larger, or go on with: diagnose call --plain"
_FIELDS = (
    ("site", "Site", "where"),
    ("door", "Door", "which door"),
    ("caller", "Caller", "who calls"),
    ("number", "Call back", "the number to call back"),
)


class SignsPage(AskedPage):
    """As many signs of danger as stand on the screen. Dismissed with ``on`` once these are answered, or ``back``.

    A key says that a sign is there, and what to do is read out at once; Enter says that the others on the screen are
    not there, and nothing of those that follow.
    """

    place = actions.SIGNS
    TITLE = "Phone call › First: danger"

    def __init__(self, talk: Talk, put: course.AskSigns) -> None:
        super().__init__(talk)
        self._put = put
        self._there = {danger.id for danger in put.signs if put.there.get(danger.id)}
        self._shown: tuple[Danger, ...] = ()
        self._plain = False

    def asked(self) -> Iterable[Widget]:
        yield Static(id="ask", markup=False)
        yield Choices(enter_goes_on=True)
        yield Line(id="trouble")

    def on_mount(self) -> None:
        self.paint_all()
        self.query_one(Choices).focus()

    def paint(self) -> None:
        spoken = self.talk.spoken
        ask = spoken.danger_plain if self._plain else spoken.danger
        head = [assemble(("READ OUT  ", "bold $text-accent"), (spoken.phrase("phone.before-all"), "bold"))]
        width = max(self.app.size.width - _KEPT_CELLS, 10)
        kept = _KEPT_LINES + self.query_one(ReadOuts).lines
        room = self.app.size.height - kept - sum(len(line.wrap(width)) for line in (*head, _keys(9)))
        shown: list[Danger] = []
        for danger in self._put.signs:
            room -= len(hanging(plain(f" 1  [ ] {ask(danger)} "), width, "    "))
            if room < 0:
                break
            shown.append(danger)
        self._shown = tuple(shown)
        told = _keys(len(self._put.signs) - len(shown)) if shown else plain(_NO_ROOM, "bold")
        self.query_one("#ask", Static).update(stack([*head, told]))
        choices = tuple(Choice(key, ask(danger), danger.id) for key, danger in zip(KEYS, shown, strict=False))
        self.query_one(Choices).show(choices, self._there, keep=True)

    def on_key(self, event: events.Key) -> None:
        if event.character and self.query_one(Choices).press(event.character):
            event.stop()

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self._there ^= {event.choice.name}
        self.query_one(Choices).show(self.query_one(Choices).choices, self._there, keep=True)
        self._record({event.choice.name: event.choice.name in self._there})

    @work(group="danger")
    async def _record(self, there: dict[str, bool]) -> None:
        self.refuse(await self.talk.say(course.SaySigns(there)))
        self.paint_all()

    @on(Choices.Entered)
    @work(exclusive=True, group="go on")
    async def action_go_on(self) -> None:
        """The signs on the screen are answered, and no others."""
        shown = {danger.id: danger.id in self._there for danger in self._shown}
        wrong = await self.talk.say(course.SaySigns(shown)) if shown else _NO_ROOM
        if wrong:
            self.refuse(wrong)
        else:
            self.dismiss("on")

    def action_meaning(self) -> None:
        self._plain = not self._plain
        self.paint()


def _keys(more: int) -> Content:
    following = f"; {more} more follow{'s' if more == 1 else ''}" if more else ""
    return plain(f"A number: yes.  Enter: no to the others on this screen{following}.", "$text-muted")


class WherePage(AskedPage):
    """All of it may stay empty. Dismissed with ``on`` once it was taken down, or ``back``."""

    place = actions.WHERE
    TITLE = "Phone call › Where"

    def __init__(self, talk: Talk, put: course.AskPlace) -> None:
        super().__init__(talk)
        self._put = put

    def asked(self) -> Iterable[Widget]:
        told = "Enter: the next line, and after the last one go on. Each may stay empty."
        yield Static(plain(told, "$text-muted"), classes="line", markup=False)
        for name, label, hint in _FIELDS:
            yield Static(label, classes="line", markup=False)
            yield Input(getattr(self._put, name), placeholder=hint, id=name, max_length=120)
        yield Line(id="trouble")

    def on_mount(self) -> None:
        self.show_read_outs()
        empty = [name for name, _, _ in _FIELDS if not getattr(self._put, name)]
        self.query_one(f"#{empty[0] if empty else 'number'}", Input).focus()

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        if event.input.id == _FIELDS[-1][0]:
            self.action_go_on()
        else:
            self.focus_next()

    @work(exclusive=True)
    async def action_go_on(self) -> None:
        """Take down what stands in the lines."""
        said = {name: self.query_one(f"#{name}", Input).value.strip() for name, _, _ in _FIELDS}
        wrong = await self.talk.say(course.SayPlace(**said))
        if wrong:
            self.refuse(wrong)
        else:
            self.dismiss("on")


class ComplaintPage(AskedPage):
    """Typing narrows the list by meaning rather than by letters; Enter takes the highlighted complaint.

    Dismissed with ``on`` once a complaint was taken down, or ``back``.
    """

    place = actions.READ_OUT
    TITLE = "Phone call › What is wrong"
    _kept = ""

    def asked(self) -> Iterable[Widget]:
        yield Static(id="ask", classes="line", markup=False)
        yield PickList(self._found(""), hint="in the caller's words", found=self._found)
        yield Line(id="told")

    def on_mount(self) -> None:
        self.paint_all()

    def paint(self) -> None:
        ask = self.talk.spoken.phrase("phone.what-is-wrong")
        self.query_one("#ask", Static).update(assemble(("READ OUT  ", "bold $text-accent"), (ask, "bold")))
        self._put_plainly()

    def _found(self, typed: str) -> list[Row]:
        """A row for each complaint that may be meant, several of one sentence together before the others."""
        phone, typed = self.talk.phone, typed.strip()
        rows = [Row(each.id, plain(one_line(each.title))) for each in phone.complaints(typed)]
        if both := phone.both(typed):
            titles = " + ".join(one_line(each.title) for each in both)
            rows.insert(0, Row("+".join(each.id for each in both), plain(titles, "bold")))
        return rows

    @property
    def _highlighted(self) -> str:
        return self.query_one(PickList).highlighted

    @on(PickList.Moved)
    def _put_plainly(self) -> None:
        """How a caller would put the highlighted complaint, to be read back to them."""
        symptoms = [self.desk.trees.symptoms[each] for each in self._highlighted.split("+") if each]
        told = [(self.talk.spoken.symptom(symptom), "bold") for symptom in symptoms]
        if len(symptoms) == 1:
            told.append((self.talk.spoken.symptom_plain(symptoms[0]), ""))
        line = self.query_one("#told", Line)
        line.update(stack(plain(printable(text), style) for text, style in told))
        line.display = bool(told)

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self._take(event.id)

    @work(exclusive=True)
    async def _take(self, symptom: str) -> None:
        """The complaint; before it, what the caller said, with whatever danger is in it."""
        pick, phone = self.query_one(PickList), self.talk.phone
        typed = pick.typed.strip()
        by_hand = bool(self.query_one(OptionList).highlighted)
        wrong = ""
        if typed != self._kept and phone.is_said(typed):
            before = phone.dangers()
            wrong = await self.talk.say(course.SayWords(typed))
            self._kept = "" if wrong else typed
            if phone.dangers() != before:
                pick.show(self._found(""), "")
                if self._highlighted != symptom and not by_hand:
                    # The danger speaks for another complaint than the words did: it is shown before it is taken.
                    return
        if symptom and not wrong:
            first, *others = symptom.split("+")
            wrong = await self.talk.say(course.SayComplaint(first, tuple(others)))
            if not wrong:
                self.dismiss("on")
        if wrong:
            self.tell(f"✗ {wrong}")

    @on(Input.Submitted)
    def action_go_on(self) -> None:
        """Where no complaint is like the words, they are kept all the same."""
        self._take(self._highlighted)
