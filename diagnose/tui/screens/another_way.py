"""Another way: put the step off, and choose what to do in its place."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.widget import Widget
from textual.widgets import Static

from diagnose.tui.in_hand import Named, Planned
from diagnose.tui.screens.page import Page
from diagnose.tui.screens.why import extra
from diagnose.tui.text import assemble, one_line, plain
from diagnose.tui.widgets.pick_list import PickList, Row

_KINDS = {"check": "Look or measure", "remedy": "Repair", "proof": "Prove", "stop": "Hand over"}


class AnotherWay(Page[Named]):
    """Dismissed with the kind and the id of the step to take, or ``None`` to keep the one there is."""

    def __init__(self, planned: Planned) -> None:
        super().__init__("Call › Another way")
        self._planned = planned

    def body(self) -> Iterable[Widget]:
        step = self._planned.step
        rows = []
        for other in self._planned.alternatives:
            if (other.kind, other.id) in ((step.goal_kind, step.goal), (step.kind, step.id)):
                continue
            cost = "" if other.kind == "proof" else f"  {extra(other.more)}"
            shown = assemble((f"{_KINDS[other.kind]}: ", "bold"), one_line(other.title), (cost, "$text-muted"))
            rows.append(Row(f"{other.kind}:{other.id}", shown))
        sentence = "The step is put off until there is nothing better. What instead?"
        yield Static(
            plain(sentence if rows else "There is no other step. Esc goes back."), classes="line", markup=False
        )
        yield PickList(rows, search=False)

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        kind, _, identity = event.id.partition(":")
        self.dismiss((kind, identity))
