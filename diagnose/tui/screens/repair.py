"""Go to a repair: any remedy of any cause, the likeliest causes first."""

from __future__ import annotations

from collections.abc import Iterable

from textual import on
from textual.widget import Widget

from diagnose.finding.reading import trade_reader
from diagnose.sitting.sitting import Sitting
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, minutes, one_line, percent, plain
from diagnose.tui.widgets.pick_list import PickList, Row, heading

_HEAD = "bold $text-accent"


class Repair(Page[str]):
    """Dismissed with the remedy to go to."""

    def __init__(self, sitting: Sitting) -> None:
        super().__init__("Call › Go to a repair")
        self._sitting = sitting

    def body(self) -> Iterable[Widget]:
        yield PickList(
            repair_rows(self._sitting),
            hint="Type a word of the repair or of the cause",
            reader=trade_reader(self.desk.trees),
        )

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self.dismiss(event.id)


def repair_rows(sitting: Sitting) -> list[Row]:
    """Each remedy below the likeliest cause it removes, those of causes nobody suspects last."""
    rows: list[Row] = []
    last, unsuspected = "", False
    for way in sitting.repairs():
        if way.chance is None and not unsuspected:
            unsuspected = True
            rows.append(heading("NOT SUSPECTED HERE", 0))
        if way.cause != last:
            last, cause = way.cause, one_line(way.cause_title)
            chance = assemble((f"{percent(way.chance or 0.0)}  ", "bold"), plain(cause, _HEAD))
            rows.append(heading(cause) if way.chance is None else Row("", chance))
        remarks = "".join(f"  {remark}" for remark in way.remarks)
        took = (f"  {minutes(way.minutes)}", "$text-muted")
        rows.append(
            Row(way.remedy, assemble("  ", one_line(way.title), took, (remarks, "bold")), under=cause, title=way.title)
        )
    return rows
