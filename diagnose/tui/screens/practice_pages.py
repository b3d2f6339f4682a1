"""Small pages of practice: one choice of a list with something to read above it, and told lines as paragraphs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import events, on
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from diagnose.sitting.choices import KEYS, Choice
from diagnose.tui.screens.page import Page
from diagnose.tui.text import plain
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, Paragraphs, heading, paragraph
from diagnose.tui.widgets.pick_list import PickList, Row

if TYPE_CHECKING:
    from diagnose.practice.telling import Told


class ChoicePage(Page[str]):
    """Dismissed with the name of what was chosen, ``None`` for Esc.

    ``letters`` shows the choices with a key each, below what is to be read; otherwise they are a list to search.
    """

    CSS: ClassVar[str] = """
    ChoicePage #above { height: 1fr; padding: 0 1; }
    ChoicePage #notice { height: auto; padding: 0 1; }
    """

    def __init__(
        self,
        crumb: str,
        ask: str,
        choices: Sequence[tuple[str, str]],
        above: Sequence[Paragraph] = (),
        *,
        notice: Content | None = None,
        letters: bool = False,
    ) -> None:
        super().__init__(crumb)
        self._ask, self._choices, self._above = ask, choices, above
        self._notice, self._letters = notice, letters

    def body(self) -> Iterable[Widget]:
        if self._notice is not None and self._notice.plain:
            yield Static(self._notice, id="notice", markup=False)
        if self._above:
            yield VerticalScroll(Paragraphs(self._above), id="above")
        if self._ask:
            yield Static(plain(self._ask, "bold"), classes="line", markup=False)
        if self._letters:
            yield Choices()
        else:
            yield PickList([Row(f"pick:{name}", plain(text)) for name, text in self._choices], hint="Type a word of it")

    def on_mount(self) -> None:
        if not self._letters:
            return
        choices = self.query_one(Choices)
        choices.show(tuple(Choice(key, text, name) for key, (name, text) in zip(KEYS, self._choices, strict=False)))
        choices.focus(scroll_visible=False)

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self.dismiss(event.id.partition(":")[2])

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self.dismiss(event.choice.name)

    def on_key(self, event: events.Key) -> None:
        if event.key in ("pagedown", "pageup") and self._above:
            scroll = self.query_one("#above", VerticalScroll)
            scroll.scroll_page_down(animate=False) if event.key == "pagedown" else scroll.scroll_page_up(animate=False)
            event.stop()
        elif self._letters and event.character and self.query_one(Choices).press(event.character):
            event.stop()


def told_paragraphs(lines: Iterable[Told]) -> list[Paragraph]:
    """Lines as they are told, each heading with an empty line before it."""
    paragraphs: list[Paragraph] = []
    for line in lines:
        if line.kind == "heading":
            paragraphs += [BLANK, heading(line.text)] if paragraphs else [heading(line.text)]
        elif line.kind == "item":
            paragraphs.append(paragraph(f"  {line.text}", later="    "))
        else:
            paragraphs.append(paragraph(line.text))
    return paragraphs
