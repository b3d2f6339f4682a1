"""What to read out at once, with its signal word in a block of its own."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.content import Content

from diagnose.tui.text import assemble, one_line, stack

if TYPE_CHECKING:
    from diagnose.screening.danger import Raised

_LOOKS = {"DANGER": ("▲▲▲ DANGER", "bold white on #a80000"), "WARNING": ("▲▲ WARNING", "bold black on #ff8c1a")}


def instruction_block(word: str, text: str) -> Content:
    """The signal word, then what to read out, in bold."""
    sign, look = _LOOKS[word]
    return assemble((f" {sign} ", look), " ", (text, "bold"))


def alarm_lines(raised: Iterable[Raised]) -> Content:
    """The dangers that stand, a line each."""
    return stack(instruction_block(each.danger.word, one_line(each.danger.title)) for each in raised)
