"""Choosing: one of a few things by one key each, or one of a list by a word of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual import events, on
from textual.app import App
from textual.containers import Container, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from diagnose.calls.words import Told, cautions_named, title
from diagnose.knowledge.model import ANY, Trees
from diagnose.sitting.cautions import FIRST, REST
from diagnose.sitting.choices import KEYS, Choice
from diagnose.tui.screens.page import ListPage, Page
from diagnose.tui.widgets.cautions import caution_lines
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, Paragraphs, paragraph, told_paragraphs
from diagnose.tui.widgets.pick_list import PickList, Row


class ChoicePage(Page[str]):
    """Something to read, and below it a few choices. Dismissed with the name of the one chosen, ``None`` for Esc."""

    def __init__(
        self, crumb: str, words: Sequence[Paragraph], choices: Sequence[Choice], notice: Content | None = None
    ) -> None:
        """``notice`` stands above all else and does not scroll."""
        super().__init__(crumb)
        self._words, self._choices, self._notice = words, tuple(choices), notice

    def body(self) -> Iterable[Widget]:
        if self._notice is not None and self._notice.plain:
            yield Static(self._notice, classes="line", markup=False)
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
        """What comes of a choice."""
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


async def choose_state(app: App[None], crumb: str, trees: Trees, now: str) -> str | None:
    """Another state of the door than ``now``, its cautions read first; ``None`` to leave it. For a worker."""
    states = [state for state in trees.energy.values() if state.id not in (ANY, now)]
    ask = paragraph((f"The door is now: {title(trees, 'energy', now)}. Into which state?", "bold"))
    picked = await app.push_screen_wait(ChoicePage(crumb, [ask], lettered((each.id, each.title) for each in states)))
    if not picked:
        return None
    state = trees.energy[picked]
    words = [paragraph((state.title, "bold")), paragraph(state.how)]
    ways = lettered([(picked, f"Done: {state.title}"), ("", "Leave it as it is")])
    notice = caution_lines(cautions_named(trees, state.cautions))
    return await app.push_screen_wait(ChoicePage(crumb, words, ways, notice)) or None


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
