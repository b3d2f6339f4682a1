"""What the caller complains of: their own words, and the complaints that may be meant by them."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from textual import events, on, work
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from diagnose.screening.spoken import Spoken, next_language
from diagnose.tui import actions
from diagnose.tui.screens.page import Page
from diagnose.tui.screens.phone_danger import InstructionPage
from diagnose.tui.text import assemble, one_line, plain, printable, stack

if TYPE_CHECKING:
    from diagnose.screening.danger import Raised

_LIST_KEYS = {"up": "cursor_up", "down": "cursor_down", "pageup": "page_up", "pagedown": "page_down"}
_MOST = 12
# Fewer words are a search; these are what somebody said, and are kept.
_A_SENTENCE = 4

Keep = Callable[[str], Awaitable[tuple["Raised", ...]]]


class ComplaintPage(Page[str]):
    """Typing narrows the list by meaning rather than by letters; Enter takes the highlighted complaint.

    ``likely`` stand on top before anything is typed. ``keep`` puts the caller's words on record.
    """

    place = actions.READ_OUT
    BINDINGS = actions.bindings(actions.READ_OUT)

    def __init__(self, language: str, likely: Sequence[str], keep: Keep) -> None:
        super().__init__("Phone call › What is wrong")
        self._language, self._likely, self._keep = language, tuple(likely), keep
        self._kept = ""
        # Complaints of a danger heard in the words that were kept.
        self._heard: tuple[str, ...] = ()

    def body(self) -> Iterable[Widget]:
        yield Static(id="ask", classes="line", markup=False)
        yield Input(placeholder="in the caller's words", id="typed", max_length=300)
        yield OptionList(markup=False)
        yield Static(id="told", markup=False)

    def on_mount(self) -> None:
        self.query_one(OptionList).can_focus = False
        self.query_one(Input).focus()
        self._fill()
        self._paint_ask()

    @property
    def spoken(self) -> Spoken:
        return Spoken(self.desk.trees, self._language)

    def _paint_ask(self) -> None:
        ask = self.spoken.phrase("phone.what-is-wrong")
        self.query_one("#ask", Static).update(assemble(("READ OUT  ", "bold $text-accent"), (ask, "bold")))

    def _fill(self) -> None:
        from diagnose.screening.complaint import match

        trees, typed = self.desk.trees, self.query_one(Input).value
        if typed.strip():
            found = [each.symptom for each in match(trees, typed)[:_MOST]]
            # What a danger speaks for already is meant before what is merely like the words.
            found.sort(key=lambda symptom: symptom.id not in self._likely)
            if typed.strip() == self._kept:
                # Of the complaints that a danger stands for, the one most like the words comes first.
                like = [symptom.id for symptom in found if symptom.id in self._heard]
                heard = [trees.symptoms[name] for name in dict.fromkeys([*like, *self._heard])]
                found = [*heard, *(symptom for symptom in found if symptom not in heard)]
        else:
            first = [trees.symptoms[symptom] for symptom in self._likely]
            found = [*first, *(s for s in trees.symptoms.values() if s.id not in self._likely)]
        options = self.query_one(OptionList)
        options.clear_options()
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
        symptom = self.desk.trees.symptoms.get(self._highlighted)
        line = self.query_one("#told", Static)
        if symptom is None:
            line.update(plain("No complaint is like that. Try other words, or fewer."))
            return
        spoken = self.spoken
        line.update(
            stack([plain(printable(spoken.symptom(symptom)), "bold"), plain(printable(spoken.symptom_plain(symptom)))])
        )

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
        self._take(self._highlighted)

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
        """The complaint; before it, whatever danger is in the words that were typed."""
        typed = self.query_one(Input).value.strip()
        by_hand = bool(self.query_one(OptionList).highlighted)
        if typed != self._kept and self._worth_keeping(typed):
            self._kept = typed
            raised = await self._keep(typed)
            if raised:
                await self.app.push_screen_wait(InstructionPage(self._language, raised))
                self._heard = tuple(dict.fromkeys(name for each in raised for name in each.danger.symptoms))
                self._fill()
                if self._highlighted != symptom and not by_hand:
                    # The danger speaks for another complaint than the words did: it is shown before it is taken.
                    return
        if symptom:
            self.dismiss(symptom)

    def _worth_keeping(self, typed: str) -> bool:
        from diagnose.screening.danger import by_words

        return len(typed.split()) >= _A_SENTENCE or bool(by_words(self.desk.trees, typed))

    def action_language(self) -> None:
        self._language = next_language(self.desk.trees.languages, self._language)
        self._paint_ask()
        self._show_words()

    def action_meaning(self) -> None:
        """Both wordings stand below the list already."""

    def action_go_on(self) -> None:
        self._take(self._highlighted)
