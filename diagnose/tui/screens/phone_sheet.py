"""The dispatch sheet at the end of a phone call."""

from __future__ import annotations

from textual.content import Content

from diagnose.calls.call import Call
from diagnose.calls.document import Document
from diagnose.knowledge.words import about
from diagnose.screening import paper
from diagnose.screening.sheet import Sheet
from diagnose.screening.spoken import Spoken, next_language
from diagnose.tui import actions
from diagnose.tui.screens.report import SavedPage
from diagnose.tui.text import assemble, one_line


class SheetPage(SavedPage[bool]):
    """The dispatch sheet, what to tell the caller, and the end of the call. Dismissed with true once handed over."""

    place, still = actions.SHEET, "The sheet is being drawn up."

    def __init__(self, call: Call, call_id: str, sheet: Sheet | None, language: str) -> None:
        super().__init__("Phone call › Dispatch sheet")
        self._call, self._call_id, self.sheet, self._language = call, call_id, sheet, language
        self.file_name = f"{call_id or 'unsaved-call'}-sheet"

    def show(self, sheet: Sheet | None) -> None:
        self.sheet = sheet
        self.paint()

    def document(self) -> Document | None:
        if self.sheet is None:
            return None
        spoken = Spoken(self.desk.trees, self._language)
        return paper.sheet_document(self._call, self.sheet, self._call_id, spoken)

    def action_language(self) -> None:
        self._language = next_language(self.desk.trees.languages, self._language)
        self.paint()

    def action_hand_over(self) -> None:
        if self.sheet is not None:
            self.dismiss(True)


def standing_lines(sheet: Sheet) -> list[Content]:
    """The sheet in three lines, while questions are still asked."""
    likely = " · ".join(
        f"{paper.how_likely(each.probability).lower()}: {one_line(each.title)}" for each in sheet.likely[:2]
    )
    kinds = len(sheet.load.loads)
    return [
        assemble(("As it stands  ", "bold"), (sheet.urgency, "bold"), f" · {'; '.join(sheet.reasons)}"),
        assemble(f"{paper.crew_in_words(sheet)} · from {paper.reach_in_words(sheet)}"),
        assemble(f"{kinds} kind{'' if kinds == 1 else 's'} of part · {about(sheet.minutes.median)} · {likely}"),
    ]
