"""Where is this? The thing a step is about on a sketch of such a door, and all things by their names."""

from __future__ import annotations

from collections.abc import Sequence

from textual.containers import VerticalScroll

from diagnose.calls.sketches import where_told
from diagnose.calls.words import Told
from diagnose.finding.glossary import find_components
from diagnose.knowledge.model import Component
from diagnose.tui.screens.choosing import PairPage
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.paragraphs import told_paragraphs
from diagnose.tui.widgets.pick_list import Row

# What a page takes of the width for itself.
_MARGIN = 3


class WhereIs(ReadingPage):
    """Where the thing in question sits."""

    def __init__(self, told: Sequence[Told]) -> None:
        super().__init__("Where is this?", told_paragraphs(told))


class Glossary(PairPage):
    """Everything on a door that has a name; below, or beside it, what it is and where it sits."""

    TITLE = "Glossary"
    hint = "Any name of it, or what it looks like"

    def rows(self) -> Sequence[Row]:
        return list(map(_row, self.desk.trees.components.values()))

    def found(self, typed: str) -> Sequence[Row]:
        return list(map(_row, find_components(self.desk.trees, typed)))

    def told(self, identity: str) -> Sequence[Told]:
        return self._told_of(identity, self.query_one("#page", VerticalScroll).size.width - 1)

    def picked(self, identity: str) -> object:
        return self.app.push_screen(WhereIs(self._told_of(identity, self.size.width - _MARGIN)))

    def _told_of(self, identity: str, width: int) -> list[Told]:
        """On a door such as that of the call in hand, where there is one."""
        trees, in_hand = self.desk.trees, self.desk.in_hand
        facts = in_hand.call.facts if in_hand is not None else {}
        return where_told(trees, trees.components[identity], facts, (), width)


def _row(component: Component) -> Row:
    also = f"  {one_line(', '.join(component.also))}" if component.also else ""
    return Row(component.id, assemble(one_line(component.title), (also, "$text-muted")))
