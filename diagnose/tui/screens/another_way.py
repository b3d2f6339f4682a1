"""Another way: put the step off, and choose what to do in its place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual import on
from textual.widget import Widget
from textual.widgets import Static

from diagnose.calls.state import Named
from diagnose.sitting.course import Alternative
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, one_line, plain
from diagnose.tui.widgets.pick_list import PickList, Row

_KINDS = {"check": "Look or measure", "remedy": "Repair", "proof": "Prove", "stop": "Hand over"}


class AnotherWay(Page[Named]):
    """Dismissed with the kind and the id of the step to take, or ``None`` to keep the one there is."""

    def __init__(self, others: Sequence[Alternative]) -> None:
        super().__init__("Call › Another way")
        self._others = {f"{other.kind}:{other.id}": other for other in others}

    def body(self) -> Iterable[Widget]:
        rows = []
        for name, other in self._others.items():
            cost = f"  {other.extra}" if other.extra else ""
            remarks = "".join(f"  {remark}" for remark in other.remarks)
            title = assemble((f"{_KINDS[other.kind]}: ", "bold"), one_line(other.title))
            rows.append(Row(name, assemble(title, (cost, "$text-muted"), (remarks, "bold"))))
        sentence = "The step is put off until there is nothing better. What instead?"
        yield Static(plain(sentence), classes="line", markup=False)
        yield PickList(rows, search=False)

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        other = self._others[event.id]
        self.dismiss((other.kind, other.id))
