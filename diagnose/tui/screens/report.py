"""The record of a call, to read and to save."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from platformdirs import user_documents_path
from textual import work

from diagnose.calls.call import Call
from diagnose.calls.document import text_of
from diagnose.calls.pdf import PdfError
from diagnose.calls.report import html_report, pdf_report, record, text_report
from diagnose.settings import SettingsError, firm_of
from diagnose.tui import actions
from diagnose.tui.screens.page import Result, TextPage
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs, heading, paragraph

# Columns beyond which a table is hard to read across.
_WIDEST = 100


class SavedPage(TextPage[Result]):
    """A page that is saved to a file of one's choice. ``told`` below it says where."""

    # What the file is called where nobody says otherwise, without its ending.
    file_name = ""

    def forms(self) -> dict[str, Callable[[], str | bytes]]:
        """What makes the text of a file, by the ending of its name; the usual form comes first."""
        return {}

    def copied(self) -> str:
        """All of it as text, wherever it is read."""
        make = self.forms().get(".md") or self.forms().get(".txt")
        made = make() if make is not None else super().copied()
        return made if isinstance(made, str) else super().copied()

    @work(exclusive=True, group="page")
    async def action_save_as(self) -> None:
        forms, in_browser = self.forms(), self.app.is_web
        if not forms:
            return
        folder = Path() if in_browser else report_folder()
        usual = folder / f"{self.file_name}{next(iter(forms))}"

        def keep(typed: str) -> str:
            file = folder / Path(typed.strip() or str(usual)).expanduser()
            make = forms.get(file.suffix.casefold())
            if make is None:
                return f"End the name in {' or '.join(forms)}."
            if not in_browser and file.exists() and file != usual:
                return f"{file} is there already. Give another name."
            try:
                made = make()
                data = made if isinstance(made, bytes) else made.encode("utf-8")
                return self._deliver(file.name, data) if in_browser else self._write(file, data)
            except (PdfError, SettingsError) as error:
                return str(error)

        ask = f"Into which file? Its ending says in which form: {', '.join(forms)}."
        if await self.app.push_screen_wait(SentencePage("Save to a file", ask, keep, "a file", str(usual))):
            self.tell(self._saved)

    def _deliver(self, name: str, data: bytes) -> str:
        """A download of the browser's, which is on another machine perhaps."""
        name = re.sub(r"[^\w.-]+", "-", name, flags=re.ASCII)
        self.app.deliver_binary(BytesIO(data), save_filename=name)
        self._saved = f"Sent to the browser: {name}"
        return ""

    def _write(self, file: Path, data: bytes) -> str:
        """Gives back why it could not be written, or nothing."""
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)
        except (OSError, ValueError) as error:
            return f"{file} could not be written: {getattr(error, 'strerror', None) or error}."
        self._saved = f"Saved: {file}"
        return ""


class ReportPage(SavedPage[None]):
    """Shows the record as it would be saved."""

    place = actions.REPORT

    def __init__(self, call: Call, call_id: str) -> None:
        super().__init__("Call › Record")
        self._call, self._call_id = call, call_id
        self.file_name = call_id or "unsaved-call"

    def on_mount(self) -> None:
        # The base class's own is called besides.
        self._paint()

    def on_resize(self) -> None:
        self._paint()

    def _paint(self) -> None:
        # Beside the page's own edges and its scroll bar.
        width = max(40, min(_WIDEST, self.app.size.width - 8))
        lines = text_of(record(self._call, self._call_id), width).splitlines()
        self.query_one(Paragraphs).show([_line(line) for line in lines])

    def forms(self) -> dict[str, Callable[[], str | bytes]]:
        def by(form: Callable[..., str | bytes]) -> Callable[[], str | bytes]:
            return lambda: form(self._call, self._call_id, firm=firm_of(self.desk.settings))

        return {".html": by(html_report), ".pdf": by(pdf_report), ".txt": by(text_report)}


def _line(line: str) -> Paragraph:
    """A line of the record; its headings stand out."""
    return heading(line) if line.isupper() or line.startswith("*** ") else paragraph(line)


def report_folder() -> Path:
    """Where reports are saved: ``diagnose`` in the user's folder for documents."""
    return user_documents_path() / "diagnose"
