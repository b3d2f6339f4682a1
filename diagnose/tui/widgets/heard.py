"""What was heard on the phone: at the head of the first screen, and what of it is worth seeing for oneself."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widgets import Static

from diagnose.knowledge.model import Trees
from diagnose.screening.handover import Recheck
from diagnose.sitting.handover import FromThePhone
from diagnose.tui.keys import key_for
from diagnose.tui.text import assemble, fit, one_line, stack
from diagnose.tui.widgets.paragraphs import hanging

_SET_IN = " " * 6
# As many as the styles give it in a tall window, and from which height on it is one.
_ROWS_IF_TALL, _TALL = 8, 30


class FromPhone(Static):
    """What was said on the phone, the dangers first; gone once somebody at the door has looked.

    Each has a line of its own; in a small window the dangers stand together, so that the caller's words do, too.
    """

    _said: FromThePhone | None = None

    def show(self, said: FromThePhone | None) -> None:
        self._said, self.display = said, said is not None
        self._lay()

    def on_resize(self) -> None:
        self._lay()

    def _lay(self) -> None:
        said = self._said
        if said is None:
            return
        dangers = [_danger(each.danger.word, each.danger.title) for each in said.dangers]
        rows = []
        for label, text in (
            *(("Said", f"“{words}”") for words in said.words),
            ("Caller", ", ".join(said.caller)),
            ("Told", "; ".join(f"{what} {answer}" for what, answer in said.told)),
        ):
            if text:
                rows.append(assemble((f"{label}  ", "bold"), one_line(text)))
        width = max(self.app.size.width - 2, 40)
        wrapped = [line for row in [*dangers, *rows] for line in hanging(row, width, _SET_IN)]
        if len(wrapped) > _ROWS_IF_TALL or self.app.size.height < _TALL:
            titles = "; ".join(each.danger.title for each in said.dangers)
            together = hanging(_danger(said.dangers[0].danger.word, titles), width, _SET_IN) if titles else []
            wrapped = [*together, *(fit(row, width) for row in rows)]
        self.update(stack(wrapped))


def _danger(word: str, title: str) -> Content:
    return assemble((f"{word} told: ", "bold $text-error"), one_line(title))


def see_again(trees: Trees, rechecks: Sequence[Recheck]) -> str:
    """What a caller told that somebody who can see should look at, and the key that asks it again; ``""`` for none."""
    if not rechecks:
        return ""
    more = f", +{len(rechecks) - 1}" if len(rechecks) > 1 else ""
    return one_line(f"See for yourself ({key_for('again')}{more}): {trees.checks[rechecks[0].check].text}")
