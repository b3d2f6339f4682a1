"""A document to read and to save: the record of a call, and what other pages are made of it."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

from msgspec.structs import replace
from platformdirs import user_documents_path
from textual import work

from diagnose.calls.call import Call
from diagnose.calls.document import Document, text_of
from diagnose.calls.forms import FORMS
from diagnose.calls.pdf import PdfError
from diagnose.calls.report import record
from diagnose.settings import SettingsError, firm_of, paper_of
from diagnose.tui import actions
from diagnose.tui.screens.page import Result, TextPage
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.widgets.paragraphs import Paragraph, Paragraphs, heading, paragraph

# Columns beyond which a table is hard to read across.
_WIDEST = 100


class SavedPage(TextPage[Result]):
    """A document to be read, and saved to a file of one's choice. ``told`` below it says where."""

    # What the file is called where nobody says otherwise, without its ending.
    file_name = ""
    # What is shown until there is a document.
    still = ""

    def document(self) -> Document | None:
        """What is read and saved; ``None`` as long as it is not made."""
        return None

    def saved(self) -> Document | None:
        """What is put into a file. Raises ``SettingsError``."""
        document = self.document()
        return document and replace(document, paper=paper_of(self.desk.settings))

    def on_mount(self) -> None:
        # The base class's own is called besides.
        self.paint()

    def on_resize(self) -> None:
        self.paint()

    def paint(self) -> None:
        # Beside the page's own edges and its scroll bar.
        width = max(40, min(_WIDEST, self.app.size.width - 8))
        document = self.document()
        lines = text_of(document, width).splitlines() if document is not None else [self.still]
        self.query_one(Paragraphs).show([_line(line) for line in lines])

    def copied(self) -> str:
        """All of it as text, wherever it is read."""
        document = self.document()
        return text_of(document) if document is not None else super().copied()

    @work(exclusive=True, group="page")
    async def action_save_as(self) -> None:
        if self.document() is None:
            return
        in_browser = self.app.is_web
        folder = Path() if in_browser else report_folder()
        usual = folder / f"{self.file_name}{next(iter(FORMS))}"

        def keep(typed: str) -> str:
            file = folder / Path(typed.strip() or str(usual)).expanduser()
            make = FORMS.get(file.suffix.casefold())
            if make is None:
                return f"End the name in {' or '.join(FORMS)}."
            if not in_browser and file.exists() and file != usual:
                return f"{file} is there already. Give another name."
            try:
                document = self.saved()
                assert document is not None
                made = make(document)
                data = made if isinstance(made, bytes) else made.encode("utf-8")
                return self._deliver(file.name, data) if in_browser else self._write(file, data)
            except (PdfError, SettingsError) as error:
                return str(error)

        ask = f"Into which file? Its ending says in which form: {', '.join(FORMS)}."
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

    def document(self) -> Document:
        return record(self._call, self._call_id)

    def saved(self) -> Document:
        return record(self._call, self._call_id, firm=firm_of(self.desk.settings))


def _line(line: str) -> Paragraph:
    """A line of the record; its headings stand out."""
    return heading(line) if line.isupper() or line.startswith("*** ") else paragraph(line)


def report_folder() -> Path:
    """Where reports are saved: ``diagnose`` in the user's folder for documents."""
    return user_documents_path() / "diagnose"
