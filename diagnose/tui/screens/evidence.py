"""Evidence for and against each cause, answer by answer."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual import on
from textual.containers import Container, VerticalScroll
from textual.widget import Widget

from diagnose.knowledge.model import UNLISTED
from diagnose.sitting.view import CallView
from diagnose.tui.screens.page import Page
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs, heading, paragraph
from diagnose.tui.widgets.pick_list import PickList, Row
from diagnose.tui.widgets.suspects import suspect_line

if TYPE_CHECKING:
    from diagnose.calls.call import Call, Likely

_UNLISTED = "Some fault that is not in the trees. It rises when the answers fit no cause that is."


class EvidencePage(Page[None]):
    """Arrows choose a cause; below stands what speaks for it and against it."""

    def __init__(self, call: Call, view: CallView) -> None:
        super().__init__("Call › Evidence for and against")
        self._call, self._view = call, view
        self._likely = {likely.cause: likely for likely in call.likely()}

    def body(self) -> Iterable[Widget]:
        with Container(id="pair"):
            rows = [Row(suspect.cause, suspect_line(suspect)) for suspect in self._view.suspects]
            yield PickList(rows, search=False)
            yield VerticalScroll(Paragraphs(id="text"), id="page", can_focus=False)

    @on(PickList.Moved)
    @on(PickList.Picked)
    def _show(self, event: PickList.Moved | PickList.Picked) -> None:
        self.query_one(Paragraphs).show(evidence_text(self._call, self._likely[event.id]))
        self.query_one("#page", VerticalScroll).scroll_home(animate=False)


def evidence_text(call: Call, likely: Likely) -> list[Paragraph]:
    """A cause, what it is, and its evidence, the strongest first."""
    from diagnose.calls.words import with_absent

    trees = call.trees
    cause = trees.causes.get(likely.cause)
    about = _UNLISTED if likely.cause == UNLISTED else cause.explain if cause else ""
    lines = [paragraph((likely.title, "bold")), *([paragraph(about)] if about else [])]
    for title, wanted in (("For it", True), ("Against it", False)):
        found = [each for each in likely.evidence if (each.factor >= 1) == wanted and _counts(each.factor)]
        lines.append(heading(title))
        for each in found:
            check = trees.checks.get(each.check)
            moved = (f"  {strength(each.factor):<6} ", "bold")
            lines.append(
                paragraph(moved, f"{check.text if check else each.check}  ", (each.answer, "bold"), later=" " * 9)
            )
        if not found:
            lines.append(paragraph("  nothing yet"))
    if cause is not None:
        lines.append(heading("Removed by"))
        lines += [paragraph(f"  {with_absent(call, remedy)}", later="  ") for remedy in cause.remedies]
    return lines


def _counts(factor: float) -> bool:
    return factor <= 0 or abs(math.log(factor)) > 0.05


def strength(factor: float) -> str:
    """``×3.2`` or ``÷5``: how an answer moved the odds of a cause against the average suspect."""
    if factor <= 0:
        return "ruled out"
    return f"×{factor:.2g}" if factor >= 1 else f"÷{1 / factor:.2g}"
