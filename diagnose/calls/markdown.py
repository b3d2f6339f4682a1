"""A document as Markdown.

Whatever a person typed, or a tree says, is escaped on its way in, so that it cannot become a heading, a table or HTML.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.calls.document import Block, Cell, Document, Heading, Items, Line, Picture, Signatures, Table, cell_text


def markdown_of(document: Document) -> str:
    """The document as Markdown; a drawing is in it as text."""
    foot = ["---", "", escape(document.foot)] if document.foot else []
    lines = [line for block in (*document.first, *document.rest) for line in _lines(block)]
    return "\n".join([*lines, *foot]).replace("\u200b", "") + "\n"


def _lines(block: Block) -> Iterator[str]:
    match block:
        case Heading(text, level):
            yield from (f"{'#' * level} {escape(text)}", "")
        case Line(text):
            yield from (escape(text), "")
        case Items(items):
            yield from (*(f"- {escape(item)}" for item in items), "")
        case Table(head, rows):
            lines = [map(escape, head), ["---"] * len(head), *(map(_cell, row, block.labels) for row in rows)]
            yield from (f"| {' | '.join(line)} |" for line in lines)
            yield ""
        case Picture(text=text):
            yield from ("```text", *text.splitlines(), "```", "")
        case Signatures(people):
            yield from (*(f"- {escape(f'{role}: {name}')}" for role, name in people), "")


def _cell(cell: Cell, is_label: bool) -> str:
    text = escape(cell_text(cell))
    return f"**{text}**" if is_label and text else text


def escape(text: str) -> str:
    """Text as it stands in one line of Markdown, whatever is in it."""
    line = " ".join("".join(c if c.isprintable() or c.isspace() else "�" for c in text).split())
    line = re.sub(r"([\\`*_{}\[\]<>#|~&!$])", r"\\\1", line)
    # What makes a list or a rule only at the start of a line; "-67 dBm" and "1.4 V" make none.
    line = re.sub(r"^([-+])(?=\s|$)|^([-=])(?=[-=\s]*$)", r"\\\g<0>", line)
    return re.sub(r"^(\d{1,9})([.)])(?=\s|$)", r"\1\\\2", line)
