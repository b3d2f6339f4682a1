"""How a card lies in a room of so many rows: worked out before anything is drawn, and without a screen.

What the hands need first stands first: what is to be done, the cautions, how, when it passes. What can be said stands
below, and waits until the rest was read to its end where not all of it can be in view at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.sitting.cards import Card
from diagnose.tui.keys import key_for
from diagnose.tui.text import plain
from diagnose.tui.widgets.cautions import caution_line, cautions_in_short
from diagnose.tui.widgets.choices import choice_rows
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, hanging, paragraph

# The longest line that is read with ease; what a scrolling text keeps clear at its sides; and the key for cautions.
MOST_COLUMNS, _SIDES, WHOLE_KEY = 100, 2, "PgUp"


@dataclass(frozen=True)
class Layout:
    """A card's paragraphs, the rows that they and what can be said take, and the rows there are."""

    paragraphs: tuple[Paragraph, ...]
    words: int
    said: int
    height: int

    @property
    def rows(self) -> int:
        """Rows that the whole card takes."""
        return self.words + self.said

    @property
    def fits(self) -> bool:
        """All of it is in view at once."""
        return self.rows <= self.height


def where_hint() -> str:
    """The key that shows where a step is done."""
    return f"where it is: {key_for('where')}"


def lay_out(card: Card, width: int, height: int, screen: int, whole: bool = False, has_place: bool = False) -> Layout:
    """``card`` in ``width`` columns and ``height`` rows, of a terminal of ``screen`` rows.

    With room to spare its parts stand apart. ``whole`` has the cautions in full that were read before;
    ``has_place`` names the key that shows where the step is done.
    """
    columns = max(min(width - _SIDES, MOST_COLUMNS), 1)
    said = 1 if card.reading is not None else len(choice_rows(card.choices, max(width - _SIDES, 1), screen))
    parts = [part for part in _parts(card, whole, has_place) if part]
    close = tuple(each for part in parts for each in part)
    apart = (*parts[0], *(each for part in parts[1:] for each in (BLANK, *part)), BLANK)
    for paragraphs in (apart, close):
        words = sum(len(hanging(each.text, columns, each.later)) for each in paragraphs)
        if words + said <= height:
            break
    return Layout(paragraphs, words, said, height)


def _parts(card: Card, whole: bool, has_place: bool) -> list[list[Paragraph]]:
    """The card's parts in the order of the work."""
    what = [paragraph((f"{card.heading.upper()}  ", "bold $text-accent"), (card.title, "bold"))]
    facts = [*card.facts, where_hint()] if has_place else card.facts
    if facts:
        what.append(paragraph((" · ".join(facts), "$text-muted")))
    before = [] if whole else [caution for caution in card.cautions if caution.id in card.read]
    cautions = [Paragraph(caution_line(caution)) for caution in card.cautions if caution not in before]
    if before:
        cautions.append(Paragraph(cautions_in_short(before, WHOLE_KEY)))
    how = [_labelled("How", card.how)] if card.how else []
    return [what, cautions, how, _lines(card.lines)]


def _lines(lines: Sequence[tuple[str, str]]) -> list[Paragraph]:
    """Each by its label; more of one kind stand below the first, without it."""
    before = ("", *(label for label, _ in lines))
    return [
        paragraph(f"  · {text}", later="    ") if label == last else _labelled(label, text)
        for last, (label, text) in zip(before, lines, strict=False)
    ]


def _labelled(label: str, text: str) -> Paragraph:
    return paragraph((f"{label}  ", "bold"), plain(text))
