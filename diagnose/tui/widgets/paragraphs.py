"""Lines of text that wrap with their later lines set in, so that a list or a tree keeps its shape when narrow."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.content import Content
from textual.css.styles import RulesMap
from textual.geometry import Size
from textual.strip import Strip
from textual.style import Style
from textual.visual import RenderOptions, Visual
from textual.widget import Widget

from diagnose.tui.text import assemble, plain

if TYPE_CHECKING:
    from diagnose.calls.words import Told


@dataclass(frozen=True)
class Paragraph:
    """``text``, and what stands before each of its lines but the first."""

    text: Content
    later: str = ""


class Paragraphs(Widget):
    """As high as its lines need."""

    def __init__(self, paragraphs: Sequence[Paragraph] = (), *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._paragraphs = tuple(paragraphs)
        self._marked = -1

    def show(self, paragraphs: Sequence[Paragraph]) -> None:
        self._paragraphs, self._marked = tuple(paragraphs), -1
        self.refresh(layout=True)

    def find(self, typed: str, back: bool = False) -> int | None:
        """Mark the next line, or the one before, that has all the words of ``typed``; gives its number from 0.

        It goes on round the end.
        """
        wanted = typed.casefold().split()
        lines = [line.plain.casefold() for line in self._lines(self.size.width)]
        order = going_round(self._marked, len(lines), back)
        self._marked = next((n for n in order if wanted and all(word in lines[n] for word in wanted)), -1)
        self.refresh()
        return self._marked if self._marked >= 0 else None

    @property
    def text(self) -> str:
        return "\n".join(paragraph.text.plain for paragraph in self._paragraphs)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._lines(width))

    def render(self) -> Content:
        lines = self._lines(self.size.width)
        if 0 <= self._marked < len(lines):
            lines[self._marked] = lines[self._marked].stylize("reverse")
        return Content("\n").join(lines)

    def _lines(self, width: int) -> list[Content]:
        return [line for paragraph in self._paragraphs for line in hanging(paragraph.text, width, paragraph.later)]


def going_round(here: int, count: int, back: bool = False) -> list[int]:
    """The numbers from 0 below ``count``, from the one after ``here`` on, or with ``back`` from the one before."""
    if back:
        return [number % count for number in range(max(here, 0) - 1, max(here, 0) - 1 - count, -1)]
    return [number % count for number in range(here + 1, here + 1 + count)]


def hanging(text: Content, width: int, later: str) -> list[Content]:
    """``text`` wrapped into ``width`` cells, ``later`` before all lines but the first."""
    if "\n" in text.plain:
        return [line for part in text.split("\n", allow_blank=True) for line in hanging(part, width, later)]
    if text.cell_length <= width or width < 20:
        return [text] if text.cell_length <= width else text.wrap(max(width, 1))
    # The first line is cut where it is full, the rest is wrapped into what the prefix leaves.
    first = text.wrap(width)[0]
    rest = text[len(first.plain) :]
    while rest.plain[:1] == " ":
        rest = rest[1:]
    return [first, *(assemble(later, line) for line in rest.wrap(width - len(later)))]


class Hanging(Visual):
    """What wraps so where Textual draws it: a row of a list. ``plain`` is its letters."""

    def __init__(self, text: Content, later: str) -> None:
        self._text, self._later = text, later
        self.plain = text.plain

    def _wrapped(self, width: int) -> Content:
        return Content("\n").join(hanging(self._text, width, self._later))

    def render_strips(self, width: int, height: int | None, style: Style, options: RenderOptions) -> list[Strip]:
        return self._wrapped(width).render_strips(width, height, style, options)

    def get_optimal_width(self, rules: RulesMap, container_width: int) -> int:
        return self._text.get_optimal_width(rules, container_width)

    def get_height(self, rules: RulesMap, width: int) -> int:
        return self._wrapped(width).get_height(rules, width)


def paragraph(*parts: str | Content | tuple[str, str], later: str = "") -> Paragraph:
    return Paragraph(assemble(*parts), later)


def heading(text: str) -> Paragraph:
    return Paragraph(plain(text, "bold $text-accent"))


BLANK = Paragraph(Content(""))


def _pointed(row: str) -> Content:
    """A row of a picture; what stands between two pointers in it is set off."""
    parts = re.split("(▶?[A-Z]◀)", row)
    return assemble(*((part, "bold reverse") if part.endswith("◀") else part for part in parts))


def told_paragraphs(lines: Iterable[Told]) -> list[Paragraph]:
    """Lines as they are told, each heading with an empty line before it."""
    paragraphs: list[Paragraph] = []
    for line in lines:
        if line.kind == "heading":
            paragraphs += [BLANK, heading(line.text)] if paragraphs else [heading(line.text)]
        elif line.kind == "item":
            paragraphs.append(paragraph(f"  {line.text}", later="    "))
        elif line.kind == "drawn":
            paragraphs.append(Paragraph(_pointed(line.text)))
        else:
            paragraphs.append(paragraph(line.text))
    return paragraphs
