"""The record of a call, to read and to save."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Markdown, Static

from diagnose.tui import actions
from diagnose.tui.screens.page import Page
from diagnose.tui.text import plain

if TYPE_CHECKING:
    from diagnose.calls.call import Call


class ReportPage(Page[None]):
    """Shows the report as it would be saved."""

    place = actions.REPORT
    BINDINGS = actions.bindings(actions.REPORT)

    def __init__(self, call: Call, call_id: str) -> None:
        super().__init__("Call › Report")
        self._call, self._call_id = call, call_id

    def body(self) -> Iterable[Widget]:
        from diagnose.calls.report import markdown_report

        yield VerticalScroll(Markdown(markdown_report(self._call, self._call_id), open_links=False), id="page")
        yield Static(id="told", markup=False)

    def on_mount(self) -> None:
        self.query_one("#page").focus()

    def action_save_text(self) -> None:
        from diagnose.calls.report import markdown_report

        self._save("md", markdown_report(self._call, self._call_id))

    def action_save_page(self) -> None:
        from diagnose.calls.report import html_report

        self._save("html", html_report(self._call, self._call_id))

    def _save(self, ending: str, text: str) -> None:
        file = report_folder() / f"{self._call_id or 'unsaved-call'}.{ending}"
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            self._tell(f"{file} could not be written: {error.strerror}.")
        else:
            self._tell(f"Saved: {file}")

    def _tell(self, sentence: str) -> None:
        self.query_one("#told", Static).update(plain(sentence))


def report_folder() -> Path:
    """Where reports are saved: ``diagnose`` in the user's folder for documents."""
    from platformdirs import user_documents_path

    return user_documents_path() / "diagnose"
