"""What cannot be saved: what to do about it without losing the call, and asked again before one leaves."""

from __future__ import annotations

from diagnose.tui.keys import key_for
from diagnose.tui.saver import NotSaved, Saver
from diagnose.tui.screens.choosing import ChoicePage, lettered
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, Paragraphs, paragraph


class NotSavedPage(ChoicePage):
    """An answer could not be put on the disk. Dismissed with ``again``, ``without``, or ``None`` to go back."""

    def __init__(self, why: str) -> None:
        words = (
            paragraph(("This could not be saved.", "bold")),
            paragraph(why),
            BLANK,
            paragraph(
                "Going on without saving keeps the call while the program runs. It is lost if the power goes or "
                f"the program ends. {key_for('save')} tries again to save all of it at any time."
            ),
        )
        ways = [("again", "Try again"), ("without", "Go on without saving"), ("", "Back, what was typed is kept")]
        super().__init__("Not saved", words, lettered(ways))


class QuitUnsaved(ChoicePage):
    """Leaving with answers that are only in memory. Dismissed with something to leave."""

    def __init__(self, saver: Saver) -> None:
        self._saver = saver
        ways = [("save", "Try to save, then leave"), ("", "Stay"), ("leave", "Leave and lose it")]
        super().__init__("Leave without saving?", self._say(""), lettered(ways))

    def _say(self, more: str) -> list[Paragraph]:
        count = len(self._saver.waiting)
        entries = "entry" if count == 1 else "entries"
        first = f"Not saved: {count} {entries} of this call, lost when you leave." if count else "All is saved."
        return [paragraph((first, "bold")), paragraph(more)]

    def take(self, name: str) -> None:
        if name == "save":
            try:
                self._saver.save_now()
            except NotSaved as error:
                self.query_one(Paragraphs).show(self._say(f"Still not saved: {error}"))
                return
        self.dismiss(name)
