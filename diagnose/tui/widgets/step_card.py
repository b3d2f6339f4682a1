"""The step to take: what, cautions, how, and below what can be said to it, once all of it was in view."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Input, Static

from diagnose.calls.call import Call
from diagnose.calls.words import Told
from diagnose.sitting.cards import Card
from diagnose.sitting.places import has_place, where
from diagnose.tui import actions
from diagnose.tui.keys import bindings
from diagnose.tui.text import plain
from diagnose.tui.widgets.asked import Watched
from diagnose.tui.widgets.card_layout import Layout, lay_out
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.paragraphs import Paragraphs, paragraph
from diagnose.tui.widgets.reading import Reading

WAITS = "▼ more: Space or PgDn, then what can be said"
READ_FIRST = "Read it to its end first: Space or PgDn."
# Rows that are kept free below what can be said, for a sentence about what was typed.
_SPARE = 4


class _Words(Watched, can_focus=True, inherit_bindings=False):
    """What is said of a step."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "scroll_up", show=False),
        Binding("down", "scroll_down", show=False),
    ]


class StepCard(Vertical):
    """Shows a ``Card``. What can be said waits until its words were read to their end, where not all is in view."""

    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.CARD)

    @dataclass
    class Laid(Message):
        """The card was laid out anew: it takes ``rows``."""

        rows: int

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.card: Card | None = None
        self._call: Call | None = None
        self.is_waiting = False
        self._read_to_the_end = False
        # What can be said takes rows of the words when it comes: they stay at the end that was read.
        self._stay_at_end = False
        self._whole = self._has_place = False
        self._layout_now: Layout | None = None

    def compose(self) -> ComposeResult:
        yield Paragraphs(id="what")
        with _Words(id="words"):
            yield Paragraphs(id="ask")
        yield Static(id="more", markup=False)
        yield Line(id="trouble")
        yield Choices(id="choices")
        yield Reading(id="reading")

    def on_mount(self) -> None:
        self.wait()

    def wait(self, sentence: str = "") -> None:
        """Nothing is asked at the moment; ``sentence`` says why, if there is something to say."""
        self.card, self._layout_now, self.is_waiting = None, None, False
        self.query_one("#what").display = False
        self.query_one("#ask", Paragraphs).show([paragraph(sentence)])
        self.query_one(Choices).show(())
        self.query_one(Reading).display = False
        self.call_after_refresh(self._say_more)

    def show(self, card: Card, call: Call) -> None:
        """Ask what ``card`` asks, of a step of ``call``. Where the step has a place, it names the key that shows it."""
        self.card, self._call, self._has_place = card, call, has_place(call, card.kind, card.id)
        self._read_to_the_end = self._stay_at_end = self._whole = False
        self.say("")
        self.query_one(_Words).scroll_home(animate=False)
        self.query_one(Choices).show(card.choices)
        if card.reading is not None:
            self.query_one(Reading).show(_input_hint(card), lambda text: call.understand(card.id, text))
        self._lay_out()
        self._focus()

    def told_where(self) -> list[Told]:
        """Where the step that is shown is done; empty where none is, or at no single part of the door."""
        if self.card is None or self._call is None:
            return []
        return where(self._call, self.card.kind, self.card.id, self.screen.size.width - 3)

    def say(self, sentence: str) -> None:
        """What went wrong with the last thing said; a reading shows it below what was typed."""
        if self.card is not None and self.card.reading is not None and not self.is_waiting:
            self.query_one(Reading).say(sentence)
            return
        self.query_one("#trouble", Line).say(sentence)

    @property
    def begun(self) -> bool:
        """The person at the keys has begun to read or to answer: the question must not change any more."""
        if self.card is not None and self.card.reading is not None and self.query_one(Reading).typed:
            return True
        return self.query_one(Choices).highlighted >= 0 or self.query_one(_Words).scroll_y > 0

    def press(self, key: str) -> bool:
        """Choose by key; false where no choice has it. A card that was not read to its end says so instead."""
        choices = self.query_one(Choices)
        if self.is_waiting and choices.by_key(key) is not None:
            self.say(READ_FIRST)
            return True
        return choices.press(key)

    # --- laying out ----------------------------------------------------------------------------------------

    def on_resize(self) -> None:
        self._lay_out()

    def _lay_out(self) -> None:
        """Put the card into the room there is. What was typed stays, whatever the size becomes."""
        card, (width, height) = self.card, self.size
        if card is None or not height:
            return
        layout = self._layout_now = lay_out(card, width, height, self.app.size.height, self._whole, self._has_place)
        waited, self.is_waiting = self.is_waiting, not layout.fits and not self._read_to_the_end
        words = self.query_one(_Words)
        self.query_one("#ask", Paragraphs).show(layout.paragraphs)
        words.styles.height = "auto" if layout.rows + _SPARE <= height else "1fr"
        what = self.query_one("#what", Paragraphs)
        what.show(layout.paragraphs[:1])
        # Read to its end, the question stays in view above the last of its words, where there is room for both.
        what.display = not layout.fits and self._read_to_the_end and layout.said + _SPARE <= height
        self.query_one(Choices).display = bool(card.choices) and not self.is_waiting
        self.query_one(Reading).display = card.reading is not None and not self.is_waiting
        if waited != self.is_waiting:
            self._focus()
        self.post_message(self.Laid(layout.rows))
        self.call_after_refresh(self._say_more)

    def _focus(self) -> None:
        card = self.card
        if card is None or not self.screen.is_current:
            return
        if self.is_waiting:
            self.query_one(_Words).focus(scroll_visible=False)
        elif card.reading is not None:
            self.query_one(Reading).query_one(Input).focus(scroll_visible=False)
        else:
            self.query_one(Choices).focus(scroll_visible=False)

    # --- reading -------------------------------------------------------------------------------------------

    def action_read_on(self) -> None:
        words = self.query_one(_Words)
        if self.is_waiting and words.scroll_y >= words.max_scroll_y:
            self._end_reached()
        else:
            self._scroll(1)

    def action_read_back(self) -> None:
        """Up; from the beginning, the cautions that were read before are shown whole."""
        if self.query_one(_Words).scroll_y <= 0 and self.card is not None and not self._whole:
            self._whole = True
            self._lay_out()
        else:
            self._scroll(-1)

    def _scroll(self, pages: int) -> None:
        self._stay_at_end = False
        words = self.query_one(_Words)
        words.scroll_relative(y=pages * max(words.size.height - 1, 1), animate=False)

    @on(Watched.Moved)
    def _say_more(self) -> None:
        words, line = self.query_one(_Words), self.query_one("#more", Static)
        if self._stay_at_end and words.scroll_y < words.max_scroll_y:
            words.scroll_to(y=words.max_scroll_y, animate=False)
        below = words.scroll_y < words.max_scroll_y
        if self.is_waiting and not below and words.scroll_y > 0:
            self._end_reached()
            return
        # The line takes a row itself, and must not be there for want of that.
        reading = self.query_one(Reading)
        told = self.query_one("#trouble").display or (reading.display and reading.query_one("#problem").display)
        scrolls = words.max_scroll_y > 0 and (self._layout_now is None or not self._layout_now.fits or told)
        line.display = scrolls or self.is_waiting
        more = "▼ more below: PgDn" if below else "▲ more above: PgUp"
        line.update(plain(WAITS if self.is_waiting else more, "bold" if self.is_waiting else ""))

    def _end_reached(self) -> None:
        """All of the words were in view: now it can be said what was found."""
        self._read_to_the_end = self._stay_at_end = True
        self.say("")
        self._lay_out()


def _input_hint(card: Card) -> str:
    check = card.reading
    assert check is not None
    unit = f" ({check.unit})" if check.unit else ""
    if check.series == "yes":
        return f"values{unit}, in their order, parted by spaces; ? could not tell"
    open_circuit = "; OL over range" if check.unit in ("ohm", "kohm", "Mohm") else ""
    return f"the reading{unit}, then Enter{open_circuit}; ? could not tell"
