"""The dispatch sheet at the end of a phone call."""

from __future__ import annotations

from collections.abc import Callable

from textual.content import Content

from diagnose.calls.call import Call
from diagnose.calls.pdf import pdf_of
from diagnose.knowledge.words import about
from diagnose.screening import paper
from diagnose.screening.sheet import Sheet
from diagnose.screening.spoken import Spoken, next_language
from diagnose.settings import paper_of
from diagnose.tui import actions
from diagnose.tui.screens.report import SavedPage
from diagnose.tui.text import assemble, one_line
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs, heading, paragraph


class SheetPage(SavedPage[bool]):
    """The dispatch sheet, what to tell the caller, and the end of the call. Dismissed with true once handed over."""

    place = actions.SHEET

    def __init__(self, call: Call, call_id: str, sheet: Sheet | None, language: str) -> None:
        super().__init__("Phone call › Dispatch sheet")
        self._call, self._call_id, self.sheet, self._language = call, call_id, sheet, language
        self.file_name = f"{call_id or 'unsaved-call'}-sheet"

    def on_mount(self) -> None:
        # The base class's own is called besides.
        self._paint()

    def show(self, sheet: Sheet | None) -> None:
        self.sheet = sheet
        self._paint()

    def _paint(self) -> None:
        lines = self.query_one(Paragraphs)
        if self.sheet is None:
            lines.show([paragraph("The sheet is being drawn up.")])
            return
        shown: list[Paragraph] = []
        for name, rows in paper.sheet_sections(self._call, self.sheet, self._spoken):
            shown.append(heading(name))
            shown += [paragraph((f"{label}  ", "bold"), text, later="   ") for label, text in rows]
        lines.show(shown)

    def action_language(self) -> None:
        self._language = next_language(self.desk.trees.languages, self._language)
        self._paint()

    def action_hand_over(self) -> None:
        if self.sheet is not None:
            self.dismiss(True)

    def forms(self) -> dict[str, Callable[[], str | bytes]]:
        sheet = self.sheet
        if sheet is None:
            return {}
        return {
            ".html": lambda: paper.html_sheet(self._call, sheet, self._call_id, self._spoken),
            ".md": lambda: paper.markdown_sheet(self._call, sheet, self._call_id, self._spoken),
            ".pdf": lambda: pdf_of(
                paper.sheet_document(self._call, sheet, self._call_id, self._spoken, paper_of(self.desk.settings))
            ),
        }

    @property
    def _spoken(self) -> Spoken:
        return Spoken(self.desk.trees, self._language)


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
