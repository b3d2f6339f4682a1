"""Choosing: one of a few things by one key each, or one of a list by a word of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual import events, on
from textual.containers import Container, VerticalScroll
from textual.widget import Widget

from diagnose.calls.call import Call
from diagnose.calls.words import Told
from diagnose.sitting.cards import Card
from diagnose.sitting.cautions import FIRST, REST
from diagnose.sitting.choices import KEYS, Choice
from diagnose.tui.screens.page import ListPage, Page
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, Paragraphs, paragraph, told_paragraphs
from diagnose.tui.widgets.pick_list import PickList, Row
from diagnose.tui.widgets.step_card import StepCard


class ChoicePage(Page[str]):
    """Something to read, and below it a few choices. Dismissed with the name of the one chosen, ``None`` for Esc."""

    def __init__(self, crumb: str, words: Sequence[Paragraph], choices: Sequence[Choice]) -> None:
        super().__init__(crumb)
        self._words, self._choices = words, tuple(choices)

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(Paragraphs(self._words), id="page", can_focus=False)
        yield Choices()

    def on_mount(self) -> None:
        choices = self.query_one(Choices)
        choices.show(self._choices)
        if len(self._choices) == 1:
            choices.action_move(1)
        choices.focus(scroll_visible=False)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self.take(event.choice.name)

    def take(self, name: str) -> None:
        self.dismiss(name)

    def on_key(self, event: events.Key) -> None:
        page = self.query_one("#page", VerticalScroll)
        if event.key in ("pagedown", "pageup"):
            page.scroll_page_down(animate=False) if event.key == "pagedown" else page.scroll_page_up(animate=False)
            event.stop()
        elif event.character and self.query_one(Choices).press(event.character):
            event.stop()


def lettered(ways: Iterable[tuple[str, str]]) -> tuple[Choice, ...]:
    """A choice for each name and what it says, with the next free key."""
    return tuple(Choice(key, text, name) for key, (name, text) in zip(KEYS, ways, strict=False))


class Notice(ChoicePage):
    """Said once at the start of every call. Dismissed with something once it is acknowledged."""

    def __init__(self) -> None:
        words = (paragraph((FIRST, "bold")), BLANK, paragraph(REST))
        super().__init__("New call › Before you begin", words, lettered([("understood", "Understood")]))


class CardPage(Page[str]):
    """A card. Dismissed with the name of what was chosen on it, ``None`` for Esc."""

    def __init__(self, crumb: str, call: Call, card: Card) -> None:
        super().__init__(crumb)
        self._call, self._card = call, card

    def body(self) -> Iterable[Widget]:
        yield StepCard()

    def on_mount(self) -> None:
        self.query_one(StepCard).show(self._card, self._call)

    def told_where(self) -> list[Told]:
        return self.query_one(StepCard).told_where()

    def on_key(self, event: events.Key) -> None:
        if event.character and self.query_one(StepCard).press(event.character):
            event.stop()

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self.take(event.choice.name)

    def take(self, name: str) -> object:
        return self.dismiss(name)


class PickPage(ListPage[str]):
    """Dismissed with the id of the row that was picked, ``None`` for Esc."""

    def __init__(self, crumb: str, rows: Sequence[Row], hint: str = "", *, ask: str = "") -> None:
        super().__init__(crumb)
        self._rows, self.hint, self.ask = rows, hint, ask

    def rows(self) -> Sequence[Row]:
        return self._rows

    def picked(self, identity: str) -> object:
        return self.dismiss(identity)


class PairPage(ListPage[None]):
    """A list, and below it, or beside it, what is told of the row that is highlighted."""

    def body(self) -> Iterable[Widget]:
        with Container(id="pair"):
            yield self.listed()
            yield VerticalScroll(Paragraphs(id="text"), id="page", can_focus=False)

    def told(self, identity: str) -> Sequence[Told]:
        """What is told of the row of that id."""
        return ()

    @on(PickList.Moved)
    def _show(self, event: PickList.Moved) -> None:
        self.query_one(Paragraphs).show(told_paragraphs(self.told(event.id) if event.id else ()))
        self.query_one("#page", VerticalScroll).scroll_home(animate=False)
