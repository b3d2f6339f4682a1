"""The step to take: cautions first, then what is asked and why, how it is done, and below what can be said to it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, Static

from diagnose.sitting.cards import Card
from diagnose.tui.text import plain, show_line
from diagnose.tui.widgets.cautions import caution_lines
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs, paragraph
from diagnose.tui.widgets.reading import Reading

if TYPE_CHECKING:
    from diagnose.calls.answering import Understood


class _Words(VerticalScroll, can_focus=False):
    """What is said of a step; tells when it was scrolled or its size changed."""

    class Moved(Message):
        """Look again whether there is more above or below."""

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        super().watch_scroll_y(old_value, new_value)
        self.post_message(self.Moved())

    def on_resize(self) -> None:
        self.post_message(self.Moved())


class StepCard(Vertical):
    """Shows a ``Card``. Its words scroll; what can be said stays in sight at the bottom."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.card: Card | None = None

    def compose(self) -> ComposeResult:
        with _Words(id="words"):
            yield Static(id="cautions", markup=False)
            yield Paragraphs(id="ask")
        yield Static(id="more", markup=False)
        yield Static(id="trouble", markup=False)
        yield Choices(id="choices")
        yield Reading(id="reading")

    def on_mount(self) -> None:
        self.say("")
        self.wait()

    def wait(self, sentence: str = "") -> None:
        """Nothing is asked at the moment; ``sentence`` says why, if there is something to say."""
        self.card = None
        self._put_words(Content(""), [paragraph(sentence)])
        self.query_one(Choices).show(())
        self.query_one(Reading).display = False

    def show(self, card: Card, understand: Callable[[str], Understood]) -> None:
        """Ask what ``card`` asks. ``understand`` is for what is typed into a reading."""
        self.card = card
        self.say("")
        self._put_words(caution_lines(card.cautions), words_of(card))
        self.query_one(_Words).scroll_home(animate=False)
        choices, reading = self.query_one(Choices), self.query_one(Reading)
        choices.show(card.choices)
        reading.display = card.reading is not None
        if card.reading is not None:
            reading.show(_input_hint(card), understand)
            reading.query_one(Input).focus(scroll_visible=False)
        else:
            choices.focus(scroll_visible=False)

    def say(self, sentence: str) -> None:
        """What went wrong with the last thing said; a reading shows it below what was typed."""
        if self.card is not None and self.card.reading is not None:
            self.query_one(Reading).say(sentence)
            return
        show_line(self.query_one("#trouble", Static), sentence)

    @property
    def begun(self) -> bool:
        """The person at the keys has begun to answer: the question must not change any more."""
        if self.card is not None and self.card.reading is not None:
            return bool(self.query_one(Reading).typed)
        return self.query_one(Choices).highlighted >= 0

    def scroll_words(self, pages: int) -> None:
        words = self.query_one(_Words)
        words.scroll_relative(y=pages * max(words.size.height - 1, 1), animate=False)

    @on(_Words.Moved)
    def _say_more(self) -> None:
        words, line = self.query_one(_Words), self.query_one("#more", Static)
        line.display = words.max_scroll_y > 0
        below = words.scroll_y < words.max_scroll_y
        line.update(plain("▼ more below: PgDn" if below else "▲ more above: PgUp"))

    def _put_words(self, cautions: Content, words: list[Paragraph]) -> None:
        above = self.query_one("#cautions", Static)
        above.update(cautions)
        above.display = bool(cautions)
        self.query_one(Paragraphs).show(words)
        self.call_after_refresh(self._say_more)


def words_of(card: Card) -> list[Paragraph]:
    """What is to be done, with what, why, and how. How comes before why where it is what keeps people whole."""
    lines = [paragraph((f"{card.heading.upper()}  ", "bold $text-accent"), (card.title, "bold"))]
    if card.facts:
        lines.append(paragraph((" · ".join(card.facts), "$text-muted")))
    why = [_labelled("Why", card.why)] if card.why and card.kind != "stop" else []
    how = [_labelled("How", card.how)] if card.how else []
    labelled = [_labelled(label, text) for label, text in card.lines]
    return [*lines, *how, *labelled, *why] if card.kind == "energy" else [*lines, *why, *labelled, *how]


def _labelled(label: str, text: str) -> Paragraph:
    return paragraph((f"{label}  ", "bold"), text)


def _input_hint(card: Card) -> str:
    check = card.reading
    assert check is not None
    unit = f" in {check.unit}" if check.unit else ""
    if check.series == "yes":
        return f"values{unit}, one a cycle, parted by spaces; ? could not tell"
    return f"the reading{unit}, then Enter; ? could not tell"
