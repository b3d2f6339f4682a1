"""What the caller complains of: their own words, and the complaints that may be meant by them."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on, work
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static

from diagnose.sitting import phone as course
from diagnose.tui import actions
from diagnose.tui.screens.phone_page import AskedPage, Talk
from diagnose.tui.text import assemble, one_line, plain, printable, stack
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.pick_list import PickList, Row


class ComplaintPage(AskedPage):
    """Typing narrows the list by meaning rather than by letters; Enter takes the highlighted complaint.

    Dismissed with ``on`` once a complaint was taken down, or ``back``.
    """

    place = actions.READ_OUT

    def __init__(self, talk: Talk) -> None:
        super().__init__("Phone call › What is wrong", talk)
        self._kept = ""

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
