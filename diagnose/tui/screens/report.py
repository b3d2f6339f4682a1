"""The record of a call, to read and to save."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Markdown, Static

from diagnose.tui import actions
from diagnose.tui.screens.page import Page, Result
from diagnose.tui.text import show_line

if TYPE_CHECKING:
    from diagnose.calls.call import Call


class SavedPage(Page[Result]):
    """A page that can be saved as text and as a page for printing. ``told`` below it says where."""

    def body(self) -> Iterable[Widget]:
        yield VerticalScroll(*self.shown(), id="page")
        yield Static(id="told", markup=False)

    def shown(self) -> Iterable[Widget]:
        """What is read."""
        return ()

    def on_mount(self) -> None:
        self.query_one("#told").display = False
        self.query_one("#page").focus()

    def save(self, name: str, text: str) -> None:
        """Write ``text`` into the file ``name`` of the folder for reports, and say so."""
        file = report_folder() / name
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            self.tell(f"{file} could not be written: {error.strerror}.")
        else:
            self.tell(f"Saved: {file}")

    def tell(self, sentence: str) -> None:
        show_line(self.query_one("#told", Static), sentence)


class ReportPage(SavedPage[None]):
    """Shows the report as it would be saved."""

    place = actions.REPORT
    BINDINGS = actions.bindings(actions.REPORT)

    def __init__(self, call: Call, call_id: str) -> None:
        super().__init__("Call › Report")
        self._call, self._call_id = call, call_id
        self._file = call_id or "unsaved-call"

    def shown(self) -> Iterable[Widget]:
        from diagnose.calls.report import markdown_report

        yield Markdown(markdown_report(self._call, self._call_id), open_links=False)

    def action_save_text(self) -> None:
        from diagnose.calls.report import markdown_report

        self.save(f"{self._file}.md", markdown_report(self._call, self._call_id))

    def action_save_page(self) -> None:
        from diagnose.calls.report import html_report

        self.save(f"{self._file}.html", html_report(self._call, self._call_id))


def report_folder() -> Path:
    """Where reports are saved: ``diagnose`` in the user's folder for documents."""
    from platformdirs import user_documents_path

    return user_documents_path() / "diagnose"
