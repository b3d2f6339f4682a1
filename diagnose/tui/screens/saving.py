"""What cannot be saved: what to do about it without losing the call, and asked again before one leaves."""

from __future__ import annotations

from diagnose.sitting.choices import Choice
from diagnose.tui.keys import key_for
from diagnose.tui.saver import NotSaved, Saver
from diagnose.tui.screens.choosing import ChoicePage
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
        choices = (
            Choice("1", "Try again", "again"),
            Choice("2", "Go on without saving", "without"),
            Choice("3", "Back, what was typed is kept", ""),
        )
        super().__init__("Not saved", words, choices)


class QuitUnsaved(ChoicePage):
    """Leaving with answers that are only in memory. Dismissed with something to leave."""

    def __init__(self, saver: Saver) -> None:
        self._saver = saver
        choices = (
            Choice("1", "Try to save, then leave", "save"),
            Choice("2", "Stay", ""),
            Choice("3", "Leave and lose it", "leave"),
        )
        super().__init__("Leave without saving?", self._say(""), choices)

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
