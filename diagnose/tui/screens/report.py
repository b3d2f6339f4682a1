"""The record of a call, to read and to save."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.widget import Widget

from diagnose.tui import actions
from diagnose.tui.screens.page import Result, TextPage
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs, heading, paragraph

if TYPE_CHECKING:
    from diagnose.calls.call import Call
    from diagnose.calls.report import Firm

# Columns beyond which a table is hard to read across.
_WIDEST = 110


class SavedPage(TextPage[Result]):
    """A page that can be saved as text and as a page for printing. ``told`` below it says where."""

    def save(self, name: str, made: str | bytes) -> None:
        """Write what was made into the file ``name`` of the folder for reports, and say so."""
        file = report_folder() / name
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(made if isinstance(made, bytes) else made.encode("utf-8"))
        except OSError as error:
            self.tell(f"{file} could not be written: {error.strerror}.")
        else:
            self.tell(f"Saved: {file}")


class ReportPage(SavedPage[None]):
    """Shows the report as it would be saved."""

    place = actions.REPORT
    BINDINGS = actions.bindings(actions.REPORT)

    def __init__(self, call: Call, call_id: str) -> None:
        super().__init__("Call › Report")
        self._call, self._call_id = call, call_id
        self._file = call_id or "unsaved-call"

    def shown(self) -> Iterable[Widget]:
        yield Paragraphs(id="lines")

    def on_mount(self) -> None:
        # The base class's own is called besides.
        self._paint()

    def on_resize(self) -> None:
        self._paint()

    def _paint(self) -> None:
        from diagnose.calls.document import text_of
        from diagnose.calls.report import record

        # Beside the page's own edges and its scroll bar.
        width = max(40, min(_WIDEST, self.app.size.width - 8))
        lines = text_of(record(self._call, self._call_id), width).splitlines()
        self.query_one("#lines", Paragraphs).show([_line(line) for line in lines])

    def _firm(self) -> Firm | None:
        """Who the record is from; ``None``, and why is told, where the settings' logo cannot be used."""
        from diagnose.settings import SettingsError, firm_of

        try:
            return firm_of(self.desk.settings)
        except SettingsError as error:
            self.tell(str(error))
            return None

    def action_save_text(self) -> None:
        from diagnose.calls.report import text_report

        if (firm := self._firm()) is not None:
            self.save(f"{self._file}.txt", text_report(self._call, self._call_id, firm=firm))

    def action_save_page(self) -> None:
        from diagnose.calls.report import html_report

        if (firm := self._firm()) is not None:
            self.save(f"{self._file}.html", html_report(self._call, self._call_id, firm=firm))

    @work
    async def action_save_pdf(self) -> None:
        from diagnose.calls.pdf import PdfError, pdf_of
        from diagnose.calls.report import record

        if (firm := self._firm()) is not None:
            document = record(self._call, self._call_id, firm=firm)
            try:
                self.save(f"{self._file}.pdf", await self.in_thread(lambda: pdf_of(document)))
            except PdfError as error:
                self.tell(str(error))


def _line(line: str) -> Paragraph:
    """A line of the record; its headings stand out."""
    return heading(line) if line.isupper() or line.startswith("*** ") else paragraph(line)


def report_folder() -> Path:
    """Where reports are saved: ``diagnose`` in the user's folder for documents."""
    from platformdirs import user_documents_path

    return user_documents_path() / "diagnose"
