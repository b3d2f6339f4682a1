"""Another way: put the step off, and choose what to do in its place."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.widget import Widget
from textual.widgets import Static

from diagnose.calls.state import Named
from diagnose.tui.in_hand import Planned, goal_of
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
        self._others: dict[str, Named] = {}

    def body(self) -> Iterable[Widget]:
        step = self._planned.step
        rows = []
        for other in self._planned.alternatives:
            if (other.kind, other.id) in (goal_of(step), (step.kind, step.id)):
                continue
            cost = "" if other.kind == "proof" else f"  {extra(other.more)}"
            remarks = "".join(f"  {remark}" for remark in other.remarks)
            title = assemble((f"{_KINDS[other.kind]}: ", "bold"), one_line(other.title))
            shown = assemble(title, (cost, "$text-muted"), (remarks, "bold"))
            rows.append(Row(f"{other.kind}:{other.id}", shown))
            self._others[rows[-1].id] = (other.kind, other.id)
        sentence = "The step is put off until there is nothing better. What instead?"
        yield Static(
            plain(sentence if rows else "There is no other step. Esc goes back."), classes="line", markup=False
        )
        yield PickList(rows, search=False)

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self.dismiss(self._others[event.id])
