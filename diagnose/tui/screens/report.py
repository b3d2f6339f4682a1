"""The record of a call, to read and to save."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.widget import Widget
from textual.widgets import Markdown
from textual.widgets.markdown import MarkdownBlock

from diagnose.tui import actions
from diagnose.tui.screens.page import Result, TextPage
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.widgets.paragraphs import going_round

if TYPE_CHECKING:
    from diagnose.calls.call import Call


class SavedPage(TextPage[Result]):
    """A page that is saved to a file of one's choice. ``told`` below it says where."""

    # What the file is called where nobody says otherwise, without its ending.
    file_name = ""

    def forms(self) -> dict[str, Callable[[], str]]:
        """What makes the text of a file, by the ending of its name; the usual form comes first."""
        return {}

    def copied(self) -> str:
        """All of it as text, wherever it is read."""
        make = self.forms().get(".md")
        return make() if make is not None else super().copied()

    @work(exclusive=True, group="page")
    async def action_save_as(self) -> None:
        forms, usual = self.forms(), report_folder() / self.file_name
        if not forms:
            return
        usual = usual.with_name(f"{usual.name}{next(iter(forms))}")

        async def keep(typed: str) -> str:
            file = report_folder() / Path(typed.strip() or str(usual)).expanduser()
            make = forms.get(file.suffix.casefold())
            if make is None:
                return f"End the name in {' or '.join(forms)}."
            if file.exists() and file != usual:
                return f"{file} is there already. Give another name."
            return self._write(file, make())

        ask = f"Into which file? Its ending says in which form: {', '.join(forms)}."
        if await self.app.push_screen_wait(SentencePage("Save to a file", ask, keep, "a file", text=str(usual))):
            self.tell(self._saved)

    def _write(self, file: Path, text: str) -> str:
        """Gives back why it could not be written, or nothing."""
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        except (OSError, ValueError) as error:
            return f"{file} could not be written: {getattr(error, 'strerror', None) or error}."
        self._saved = f"Saved: {file}"
        return ""


class ReportPage(SavedPage[None]):
    """Shows the report as it would be saved."""

    place = actions.REPORT
    BINDINGS = actions.bindings(actions.REPORT)

    def __init__(self, call: Call, call_id: str) -> None:
        super().__init__("Call › Report")
        self._call, self._call_id = call, call_id
        self.file_name = call_id or "unsaved-call"
        # The part of the text to which finding went last.
        self._shown = -1

    def shown(self) -> Iterable[Widget]:
        from diagnose.calls.report import markdown_report

        yield Markdown(markdown_report(self._call, self._call_id), open_links=False)

    def go_to_next(self, typed: str, back: bool = False) -> bool:
        wanted = typed.casefold().split()
        blocks = list(self.query(MarkdownBlock))
        order = going_round(self._shown, len(blocks), back)
        texts = [(blocks[number].source or "").casefold() for number in range(len(blocks))]
        found = next((number for number in order if wanted and all(word in texts[number] for word in wanted)), None)
        if found is not None:
            self._shown = found
            blocks[found].scroll_visible(animate=False, top=True)
        return found is not None

    def forms(self) -> dict[str, Callable[[], str]]:
        from diagnose.calls.report import html_report, markdown_report

        return {
            ".html": lambda: html_report(self._call, self._call_id),
            ".md": lambda: markdown_report(self._call, self._call_id),
        }


def report_folder() -> Path:
    """Where reports are saved: ``diagnose`` in the user's folder for documents."""
    from platformdirs import user_documents_path

    return user_documents_path() / "diagnose"
