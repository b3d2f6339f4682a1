"""Go to a repair: any remedy of any cause, the likeliest causes first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual import on
from textual.widget import Widget

from diagnose.knowledge.model import Cause, applies
from diagnose.tui.screens.page import Page
from diagnose.tui.text import assemble, minutes, one_line, percent, plain
from diagnose.tui.widgets.pick_list import PickList, Row, heading

if TYPE_CHECKING:
    from diagnose.calls.call import Call

_HEAD = "bold $text-accent"


class Repair(Page[str]):
    """Dismissed with the remedy to go to."""

    def __init__(self, call: Call) -> None:
        super().__init__("Call › Go to a repair")
        self._call = call

    def body(self) -> Iterable[Widget]:
        yield PickList(repair_rows(self._call), hint="Type a word of the repair or of the cause")

    @on(PickList.Picked)
    def _picked(self, event: PickList.Picked) -> None:
        self.dismiss(event.id)


def repair_rows(call: Call) -> list[Row]:
    """Each remedy once, below the likeliest cause it removes; then those of causes nobody suspects."""
    trees, facts = call.trees, call.state.facts
    rows: list[Row] = []
    listed: set[str] = set()
    suspected = [(likely.cause, likely.probability) for likely in call.likely() if likely.cause in trees.causes]
    for suspect, probability in suspected:
        cause = trees.causes[suspect]
        title = assemble((f"{percent(probability)}  ", "bold"), plain(one_line(cause.title), _HEAD))
        rows += _below(Row("", title), cause, call, listed)
    rest: list[Row] = []
    for cause in trees.causes.values():
        if cause.id not in dict(suspected) and applies(cause.applies, facts):
            rest += _below(heading(one_line(cause.title)), cause, call, listed)
    return [*rows, *([heading("NOT SUSPECTED HERE", 0), *rest] if rest else [])]


def _below(title: Row, cause: Cause, call: Call, listed: set[str]) -> list[Row]:
    """A cause and those of its remedies that are not listed yet; nothing where all are."""
    from diagnose.calls.words import absent_from

    tried = {item.remedy: item.worked for item in call.state.tries}
    rows = []
    for remedy in cause.remedies:
        doing = call.trees.remedies[remedy]
        if remedy in listed or not applies(doing.applies, call.state.facts):
            continue
        listed.add(remedy)
        done = "" if remedy not in tried else "  done, it worked" if tried[remedy] else "  done, no change"
        put_off = "  put off" if ("remedy", remedy) in call.state.put_off else ""
        needs = absent_from(call, "remedy", remedy)
        remarks = done + put_off + (f"  {needs}" if needs else "")
        shown = assemble("  ", one_line(doing.title), (f"  {minutes(doing.minutes)}", "$text-muted"), (remarks, "bold"))
        rows.append(Row(remedy, shown, cause.title))
    return [title, *rows] if rows else []
