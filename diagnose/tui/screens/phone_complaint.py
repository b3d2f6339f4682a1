"""What the caller complains of: their own words, and the complaints that may be meant by them."""

from __future__ import annotations

from collections.abc import Iterable

from textual import events, on, work
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from diagnose.tui import actions
from diagnose.tui.keys import bindings
from diagnose.tui.screens.phone_page import AskedPage, Talk
from diagnose.tui.text import assemble, one_line, plain, printable, show_line, stack

_LIST_KEYS = {"up": "cursor_up", "down": "cursor_down", "pageup": "page_up", "pagedown": "page_down"}


class ComplaintPage(AskedPage):
    """Typing narrows the list by meaning rather than by letters; Enter takes the highlighted complaint.

    Dismissed with ``on`` once a complaint was taken down, or ``back``.
    """

    place = actions.READ_OUT
    BINDINGS = bindings(actions.READ_OUT)

    def __init__(self, talk: Talk) -> None:
        super().__init__("Phone call › What is wrong", talk)
        self._kept = ""

    def asked(self) -> Iterable[Widget]:
        yield Static(id="ask", classes="line", markup=False)
        yield Input(placeholder="in the caller's words", id="typed", max_length=300)
        yield OptionList(markup=False)
        yield Static(id="told", markup=False)

    def on_mount(self) -> None:
        self.query_one(OptionList).can_focus = False
        self.query_one(Input).focus()
        self._fill()
        self.paint_all()

    def paint(self) -> None:
        ask = self.talk.spoken.phrase("phone.what-is-wrong")
        self.query_one("#ask", Static).update(assemble(("READ OUT  ", "bold $text-accent"), (ask, "bold")))
        self._show_words()

    def _fill(self) -> None:
        typed = self.query_one(Input).value.strip()
        found, both = self.talk.phone.complaints(typed), self.talk.phone.both(typed)
        options = self.query_one(OptionList)
        options.clear_options()
        if both:
            titles = " + ".join(one_line(symptom.title) for symptom in both)
            options.add_option(Option(plain(titles, "bold"), "+".join(symptom.id for symptom in both)))
        options.add_options([Option(plain(one_line(symptom.title)), symptom.id) for symptom in found])
        options.highlighted = 0 if found else None
        self._show_words()

    @property
    def _highlighted(self) -> str:
        options = self.query_one(OptionList)
        index = options.highlighted
        return (options.get_option_at_index(index).id or "") if index is not None else ""

    def _show_words(self) -> None:
        """How a caller would put the highlighted complaint, to be read back to them."""
        symptoms = [self.desk.trees.symptoms[each] for each in self._highlighted.split("+") if each]
        line = self.query_one("#told", Static)
        if not symptoms:
            line.update(plain("No complaint is like that. Try other words, or fewer."))
            return
        told = [(self.talk.spoken.symptom(symptom), "bold") for symptom in symptoms]
        if len(symptoms) == 1:
            told.append((self.talk.spoken.symptom_plain(symptoms[0]), ""))
        line.update(stack(plain(printable(text), style) for text, style in told))

    @on(Input.Changed)
    def _typing(self, event: Input.Changed) -> None:
        event.stop()
        self._fill()

    @on(OptionList.OptionHighlighted)
    def _moved(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._show_words()

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        self.action_go_on()

    @on(OptionList.OptionSelected)
    def _picked(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self._take(event.option_id or "")

    def on_key(self, event: events.Key) -> None:
        if event.key in _LIST_KEYS:
            getattr(self.query_one(OptionList), f"action_{_LIST_KEYS[event.key]}")()
            event.stop()

    @work(exclusive=True)
    async def _take(self, symptom: str) -> None:
        """The complaint; before it, what the caller said, with whatever danger is in it."""
        from diagnose.sitting.phone import SayComplaint, SayWords

        typed = self.query_one(Input).value.strip()
        by_hand = bool(self.query_one(OptionList).highlighted)
        wrong = ""
        if typed != self._kept and self.talk.phone.is_said(typed):
            before = self.talk.phone.dangers()
            wrong = await self.talk.say(SayWords(typed))
            self._kept = "" if wrong else typed
            if self.talk.phone.dangers() != before:
                self._fill()
                if self._highlighted != symptom and not by_hand:
                    # The danger speaks for another complaint than the words did: it is shown before it is taken.
                    return
        if symptom and not wrong:
            wrong = await self.talk.say(SayComplaint(*_first_and_others(symptom)))
            if not wrong:
                self.dismiss("on")
        if wrong:
            show_line(self.query_one("#told", Static), f"✗ {wrong}")

    def action_go_on(self) -> None:
        self._take(self._highlighted)


def _first_and_others(row: str) -> tuple[str, tuple[str, ...]]:
    """The complaints of a row: one, or several to be taken together."""
    first, *others = row.split("+")
    return first, tuple(others)
