"""Hazard notices: the signal word written out, in a block of its own with a shape for each grade."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from textual.content import Content

from diagnose.knowledge.model import Caution
from diagnose.tui.text import assemble

# Colours after ANSI Z535.4 (red, orange, yellow, blue); the alert sign is not for NOTICE, which is not about injury.
LOOKS = {
    "DANGER": ("▲▲▲ DANGER ", "bold white on #a80000"),
    "WARNING": ("▲▲ WARNING ", "bold black on #ff8c1a"),
    "CAUTION": ("▲ CAUTION ", "bold black on #ffd91a"),
    "NOTICE": ("NOTICE ", "bold white on #0047b3"),
}


def signalled(word: str, text: str, style: str = "bold", tick: str = "") -> Content:
    """The signal word in its block, ``tick``, then the text."""
    sign, look = LOOKS[word]
    return assemble((f" {sign}", look), f" {tick} " if tick else " ", (text, style))


def caution_line(caution: Caution) -> Content:
    """In bold for DANGER."""
    return signalled(caution.word, caution.text, "bold" if caution.word == "DANGER" else "")


def cautions_in_short(cautions: Sequence[Caution], key: str) -> Content:
    """Their signal words alone, of cautions that were read before, and the ``key`` that shows them whole."""
    words: Collection[str] = dict.fromkeys(caution.word for caution in cautions)
    blocks = [(f" {sign}", look) for sign, look in (LOOKS[word] for word in words)]
    parts = [part for block in blocks for part in (block, " ")]
    return assemble(*parts, "as before; whole: ", (key, "bold"))
