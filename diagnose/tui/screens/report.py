"""The record of a call, to read and to save."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from textual.widget import Widget
from textual.widgets import Markdown
from textual.widgets.markdown import MarkdownBlock

from diagnose.tui import actions
from diagnose.tui.screens.page import Result, TextPage

if TYPE_CHECKING:
    from diagnose.calls.call import Call


class SavedPage(TextPage[Result]):
    """A page that can be saved as text and as a page for printing. ``told`` below it says where."""

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


class ReportPage(SavedPage[None]):
    """Shows the report as it would be saved."""

    place = actions.REPORT
    BINDINGS = actions.bindings(actions.REPORT)

    def __init__(self, call: Call, call_id: str) -> None:
        super().__init__("Call › Report")
        self._call, self._call_id = call, call_id
        self._file = call_id or "unsaved-call"
        # The part of the text to which finding went last.
        self._shown = -1

    def shown(self) -> Iterable[Widget]:
        from diagnose.calls.report import markdown_report

        yield Markdown(markdown_report(self._call, self._call_id), open_links=False)

    def go_to_next(self, typed: str) -> bool:
        wanted = typed.casefold().split()
        blocks = list(self.query(MarkdownBlock))
        order = [number % len(blocks) for number in range(self._shown + 1, self._shown + 1 + len(blocks))]
        texts = [(blocks[number].source or "").casefold() for number in range(len(blocks))]
        found = next((number for number in order if wanted and all(word in texts[number] for word in wanted)), None)
        if found is not None:
            self._shown = found
            blocks[found].scroll_visible(animate=False, top=True)
        return found is not None

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
