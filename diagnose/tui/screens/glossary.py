"""Where is this? The thing a step is about on a sketch of such a door, and all things by their names."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual import on
from textual.containers import Container, VerticalScroll
from textual.widget import Widget

from diagnose.calls.sketches import where_told
from diagnose.calls.words import Told
from diagnose.finding.glossary import find_components
from diagnose.finding.reading import trade_reader
from diagnose.knowledge.model import Component
from diagnose.tui.screens.page import Page, ReadingPage
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.paragraphs import Paragraphs, told_paragraphs
from diagnose.tui.widgets.pick_list import PickList, Row

# What a page takes of the width for itself.
_MARGIN = 3


class WhereIs(ReadingPage):
    """Where the thing in question sits."""

    def __init__(self, told: Sequence[Told]) -> None:
        super().__init__("Where is this?", told_paragraphs(told))


class Glossary(Page[None]):
    """Everything on a door that has a name; below, or beside it, what it is and where it sits."""

    def __init__(self) -> None:
        super().__init__("Glossary")

    def body(self) -> Iterable[Widget]:
        with Container(id="pair"):
            yield PickList(
                [_row(each) for each in self.desk.trees.components.values()],
                hint="Any name of it, or what it looks like",
                reader=trade_reader(self.desk.trees),
                found=lambda typed: [_row(each) for each in find_components(self.desk.trees, typed)],
            )
            yield VerticalScroll(Paragraphs(id="text"), id="page", can_focus=False)

    @on(PickList.Moved)
    def _show(self, event: PickList.Moved) -> None:
        if not event.id:
            self.query_one(Paragraphs).show([])
            return
        page = self.query_one("#page", VerticalScroll)
        told = where_told(self.desk.trees, self.desk.trees.components[event.id], self._facts, (), page.size.width - 1)
        self.query_one(Paragraphs).show(told_paragraphs(told))
        page.scroll_home(animate=False)

    @on(PickList.Picked)
    def _open(self, event: PickList.Picked) -> None:
        width = self.size.width - _MARGIN
        self.app.push_screen(
            WhereIs(where_told(self.desk.trees, self.desk.trees.components[event.id], self._facts, (), width))
        )

    @property
    def _facts(self) -> dict[str, str | tuple[str, ...]]:
        """What is known of the door of the call in hand."""
        in_hand = self.desk.in_hand
        return dict(in_hand.call.facts) if in_hand is not None else {}


def _row(component: Component) -> Row:
    also = f"  {one_line(', '.join(component.also))}" if component.also else ""
    return Row(component.id, assemble(one_line(component.title), (also, "$text-muted")))
