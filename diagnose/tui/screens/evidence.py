"""Evidence for and against each cause, answer by answer."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.calls.call import Call
from diagnose.calls.words import Told
from diagnose.sitting.telling import evidence
from diagnose.sitting.view import CallView
from diagnose.tui.screens.choosing import PairPage
from diagnose.tui.widgets.pick_list import Row
from diagnose.tui.widgets.suspects import STRENGTH, suspect_line


class EvidencePage(PairPage):
    """Arrows choose a cause; below stands what speaks for it and against it."""

    TITLE = "Call › Evidence for and against"

    def __init__(self, call: Call, view: CallView) -> None:
        super().__init__()
        self._call, self._view = call, view

    def rows(self) -> Sequence[Row]:
        return [Row(each.cause, suspect_line(each), set_in=STRENGTH) for each in self._view.suspects]

    def told(self, identity: str) -> Sequence[Told]:
        return evidence(self._call, identity, self.desk.settings.units)
