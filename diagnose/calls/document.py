"""A document as blocks, and two of its faces: plain text, and one HTML page. ``markdown`` and ``pdf`` are the others.

Blocks hold text and nothing else: no face reads anything in it as markup. Each face is black on white, and no word is
broken inside unless it alone is longer than a line.
"""

from __future__ import annotations

import base64
import html
import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

import msgspec

Paper = Literal["letter", "a4"]
# A word longer than this may be broken, so that it cannot push a column off the page.
_LONGEST_WORD = 40
_LETTERS_OF_A_PLOT = 21
_NARROWEST_COLUMN = 14
_LETTERS_OF_A_LINE, _MOST_LINES = 120, 62


class Plot(msgspec.Struct, frozen=True, tag="plot"):
    """Readings against the range that is usual on a sound door, all in one unit. ``svg`` is the drawing."""

    low: float
    high: float
    values: tuple[float, ...]
    svg: str = ""


Cell = str | Plot


class Heading(msgspec.Struct, frozen=True, tag="heading"):
    """``level`` 1 is the document's own."""

    text: str
    level: Literal[1, 2, 3] = 2


class Line(msgspec.Struct, frozen=True, tag="line"):
    """A paragraph. ``result`` is set in large letters in a frame."""

    text: str
    look: Literal["plain", "small", "strong", "result"] = "plain"


class Items(msgspec.Struct, frozen=True, tag="items"):
    items: tuple[str, ...]


class Table(msgspec.Struct, frozen=True, tag="table"):
    """``widths`` are the columns' shares of the line; a column of 0 is as wide as what stands in it.

    Without a head every other cell is what the next one is about.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    widths: tuple[int, ...]

    @property
    def labels(self) -> tuple[bool, ...]:
        """Whether the cells of each column are what the next ones are about."""
        return tuple(not any(self.head) and column % 2 == 0 for column in range(len(self.widths)))


class Picture(msgspec.Struct, frozen=True, tag="picture"):
    """A drawing as SVG, and the same as lines of text; ``label`` says in a few words what it shows."""

    svg: str
    text: str
    label: str = ""


class Signatures(msgspec.Struct, frozen=True, tag="signatures"):
    """A line to sign for each, with the name printed where it is known: ``("For the customer", "")``."""

    people: tuple[tuple[str, str], ...]


Block = Heading | Line | Items | Table | Picture | Signatures


class Logo(msgspec.Struct, frozen=True):
    """A picture file's bytes, and which kind it is."""

    data: bytes
    kind: Literal["png", "jpg", "svg"]


class Document(msgspec.Struct, frozen=True):
    """``first`` is one page; ``rest`` begins on the next. ``head`` stands above the first page, ``foot`` below each."""

    title: str
    first: tuple[Block, ...]
    rest: tuple[Block, ...] = ()
    head: str = ""
    logo: Logo | None = None
    foot: str = ""
    paper: Paper = "letter"


def plot_of(low: float, high: float, values: Sequence[float]) -> Plot:
    """A small plot, 120 by 16: the usual range a grey bar between two strokes, each reading a black diamond."""
    ends = [*values, low, high]
    start, end = min(ends), max(ends)
    margin = 0.08 * (end - start) or abs(start) * 0.1 or 1.0
    start, end = start - margin, end + margin

    def at(value: float) -> float:
        return 120 * (value - start) / (end - start)

    left, right = at(low), at(high)
    parts = [
        "<svg xmlns='http://www.w3.org/2000/svg' width='120' height='16' viewBox='0 0 120 16'>",
        "<path d='M0 8H120' stroke='#888888' stroke-width='0.7'/>",
        f"<rect x='{left:.1f}' y='4' width='{max(right - left, 0.8):.1f}' height='8' fill='#cccccc'/>",
        f"<path d='M{left:.1f} 2V14M{right:.1f} 2V14' stroke='#444444' stroke-width='1'/>",
        *(f"<path d='M{at(value):.1f} 3l4 5 -4 5 -4 -5Z' fill='#000000'/>" for value in values),
    ]
    return Plot(low, high, tuple(values), "".join([*parts, "</svg>"]))


def soft(text: str) -> str:
    """Text on one line, with what cannot be printed replaced, and places to break a word longer than a line."""
    line = " ".join("".join(c if c.isprintable() or c.isspace() else "�" for c in text).split())
    pattern = rf"(\S{{{_LONGEST_WORD}}})(?=\S)"
    return re.sub(pattern, "\\1\u200b", line)


def table(
    heading: str, head: tuple[str, ...], widths: tuple[int, ...], rows: Iterable[Iterable[Cell]]
) -> Iterator[Block]:
    """A table of cells in any wording, with a heading above it; nothing where it has no rows."""
    soft_rows = tuple(tuple(soft(each) if isinstance(each, str) else each for each in row) for row in rows)
    if soft_rows:
        yield Heading(soft(heading))
        yield Table(head, soft_rows, widths)


# --- plain text --------------------------------------------------------------------------------------------------


def text_of(document: Document, width: int = 96, *, by_rows: bool = False) -> str:
    """The document as plain text, ``width`` columns wide; ``by_rows``: tables are read row by row."""
    lines = [*([document.head, ""] if document.head else []), *_text_blocks(document.first, width, by_rows)]
    if document.rest:
        lines += ["", "=" * width, "", *_text_blocks(document.rest, width, by_rows)]
    if document.foot:
        lines += ["", *_wrapped(document.foot, width)]
    return "\n".join(line.rstrip() for line in lines).replace("\u200b", "").lstrip("\n") + "\n"


def _text_blocks(blocks: Iterable[Block], width: int, by_rows: bool = False) -> Iterator[str]:
    for block in blocks:
        match block:
            case Heading(text, level):
                yield from ("", *_wrapped(text.upper() if level == 2 else text, width))
                if level == 1:
                    yield "=" * min(width, len(text))
            case Line(text, look):
                if look == "result":
                    yield from ("", *_wrapped(f"*** {text.upper()} ***", width))
                else:
                    yield from _wrapped(text, width)
            case Items(items):
                for item in items:
                    yield from _wrapped(f"- {item}", width, "  ")
            case Table():
                yield from _text_table(block, width, by_rows)
            case Picture(text=text):
                yield from text.splitlines()
            case Signatures(people):
                for role, name in people:
                    yield ""
                    yield f"{role}: {name or '_' * 28}   Signed: {'_' * 20}   Date: {'_' * 10}"


def _text_table(table: Table, width: int, by_rows: bool) -> Iterator[str]:
    """Columns as wide as they need where there is room; else each row in one line of ``head: cell``."""
    rows = [tuple(map(cell_text, row)) for row in table.rows]
    headed = [table.head] if any(table.head) else []
    columns = [max(map(len, column)) for column in zip(*headed, *rows, strict=True)]
    while not by_rows and sum(columns) > width - 2 * (len(columns) - 1):
        # Of the columns that may be wrapped, the widest gives way.
        widest = max((i for i, share in enumerate(table.widths) if share), key=lambda i: columns[i], default=0)
        columns[widest] -= 1
        by_rows = columns[widest] < _NARROWEST_COLUMN
    if by_rows:
        for row in rows:
            pairs = zip(table.head, row, strict=True) if headed else zip(row[::2], row[1::2], strict=True)
            yield from _wrapped("; ".join(": ".join(filter(None, pair)) for pair in pairs if pair[1]), width, "  ")
        return
    for row in [*headed, *rows]:
        cells = [_wrapped(cell, size) or [""] for cell, size in zip(row, columns, strict=True)]
        for number in range(max(map(len, cells))):
            parts = [cell[number] if number < len(cell) else "" for cell in cells]
            yield "  ".join(f"{part:<{size}}" for part, size in zip(parts, columns, strict=True))
        if row is table.head:
            yield "  ".join("-" * size for size in columns)


def cell_text(cell: Cell) -> str:
    """``..[===#====]..`` for a plot."""
    if isinstance(cell, str):
        return cell
    ends = [*cell.values, cell.low, cell.high]
    start, size = min(ends), (max(ends) - min(ends)) or 1.0

    def at(value: float) -> int:
        return round((_LETTERS_OF_A_PLOT - 1) * (value - start) / size)

    low, high = at(cell.low), at(cell.high)
    drawn = ["=" if low < i < high else "." for i in range(_LETTERS_OF_A_PLOT)]
    drawn[low], drawn[high] = "[", "]"
    for value in cell.values:
        drawn[at(value)] = "#"
    return "".join(drawn)


def _wrapped(text: str, width: int, later: str = "") -> list[str]:
    return textwrap.wrap(
        text, max(width, 1), subsequent_indent=later, break_on_hyphens=False, break_long_words=len(text) > 200
    )


# --- HTML --------------------------------------------------------------------------------------------------------


def html_of_document(document: Document) -> str:
    """The document as one HTML page that needs nothing beside itself: no script, no link, nothing fetched."""
    body = [f"<header>{_logo(document.logo)}<strong>{_escaped(document.head)}</strong></header>"]
    # A page cannot measure itself: a long first one is set smaller beforehand.
    tight = " tight" if len(list(_text_blocks(document.first, _LETTERS_OF_A_LINE))) > _MOST_LINES else ""
    body += [f"<section class='first{tight}'>", *map(_html_block, document.first), "</section>"]
    if document.rest:
        body += ["<section class='rest'>", *map(_html_block, document.rest), "</section>"]
    foot = f"<footer>{_escaped(document.foot)}</footer>" if document.foot else ""
    size = {"letter": "letter", "a4": "A4"}[document.paper]
    return _PAGE.format(
        title=_escaped(document.title), style=_STYLE.replace("@SIZE@", size), body="\n".join([*body, foot]).rstrip()
    )


def _html_block(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"<h{level}>{_escaped(text)}</h{level}>"
        case Line(text, look):
            return f"<p class='{look}'>{_escaped(text)}</p>"
        case Items(items):
            return f"<ul>{''.join(f'<li>{_escaped(item)}</li>' for item in items)}</ul>"
        case Table(head, rows, widths):
            top = "".join(f"<th>{_escaped(cell)}</th>" for cell in head)
            top = f"<thead><tr>{top}</tr></thead>" if any(head) else ""
            tags = ["th" if is_label else "td" for is_label in block.labels]
            wraps = ["" if share else " class='kept'" for share in widths]
            body = "".join(f"<tr>{''.join(map(_html_cell, row, tags, wraps))}</tr>" for row in rows)
            return f"<table>{top}<tbody>{body}</tbody></table>"
        case Picture(svg, text, label):
            return f"<figure role='img' aria-label='{_escaped(label or text)}'>{svg}</figure>"
        case Signatures(people):
            lines = "".join(
                f"<tr><td>{_escaped(role)}</td><td>Name {_escaped(name)}</td><td>Signed</td><td>Date</td></tr>"
                for role, name in people
            )
            return f"<table class='signatures'><tbody>{lines}</tbody></table>"


def _html_cell(cell: Cell, tag: str, kept: str) -> str:
    return f"<{tag}{kept}>{_escaped(cell) if isinstance(cell, str) else cell.svg}</{tag}>"


def _logo(logo: Logo | None) -> str:
    if logo is None:
        return ""
    kind = {"png": "image/png", "jpg": "image/jpeg", "svg": "image/svg+xml"}[logo.kind]
    return f"<img alt='' src='data:{kind};base64,{base64.b64encode(logo.data).decode('ascii')}'>"


def _escaped(text: str) -> str:
    return html.escape(text, quote=True)


_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{style}</style>
</head>
<body>
{body}
</body>
</html>
"""
_STYLE = """
:root { color-scheme: light; }
body { font: 10.5pt/1.35 "Liberation Sans", Arial, Helvetica, sans-serif; color: #000; background: #fff;
       max-width: 48rem; margin: 1.5rem auto; padding: 0 1rem; overflow-wrap: break-word; hyphens: manual; }
header { display: flex; align-items: center; gap: .8rem; font-size: 1.2rem; }
header img { max-height: 3rem; max-width: 12rem; }
h1 { font-size: 1.3rem; margin: .2rem 0 .4rem; }
h2 { font-size: 1.02rem; border-bottom: 1px solid #666; margin: .8rem 0 .25rem; }
h3 { font-size: .95rem; margin: .6rem 0 .2rem; }
p, ul { margin: .25rem 0; }
ul { padding-left: 1.2rem; }
p.small, footer { font-size: .8rem; }
p.strong { font-weight: bold; }
p.result { font-size: 1.45rem; font-weight: bold; text-transform: uppercase; border: 2.5px solid #000;
           padding: .35rem .6rem; margin: .5rem 0; }
table { border-collapse: collapse; width: 100%; font-size: .9em; }
th, td { text-align: left; vertical-align: top; padding: .12rem .5rem .12rem 0; border-bottom: 1px solid #bbb; }
.kept { white-space: nowrap; }
table.signatures td { border-bottom: 0; border-top: 1px solid #000; padding-top: .1rem; width: 25%; font-size: .85em; }
table.signatures { border-collapse: separate; border-spacing: .8rem 0; margin: 0 -.8rem; }
table.signatures tr { height: 2.9rem; vertical-align: top; }
table.signatures { margin-top: 2.4rem; }
figure { margin: .5rem 0; }
figure svg { max-width: 100%; max-height: 75mm; height: auto; }
footer { border-top: 1px solid #666; margin-top: 1rem; padding-top: .2rem; }
@page { size: @SIZE@; margin: 13mm 14mm 14mm;
        @bottom-right { content: "Page " counter(page) " of " counter(pages); font: 8pt sans-serif; } }
@media print {
  body { font-size: 8.6pt; line-height: 1.22; max-width: none; margin: 0; padding: 0; }
  h1 { font-size: 1.4em; } h2 { font-size: 1.15em; margin-top: .6em; } h3 { font-size: 1em; }
  header { font-size: 1.3em; } p.result { font-size: 1.9em; } p.small, footer { font-size: .88em; }
  section.first.tight { font-size: 7.2pt; line-height: 1.12; }
  section.rest { break-before: page; }
  h2, h3 { break-after: avoid; }
  tr, li, figure, p, .signatures { break-inside: avoid; }
  thead { display: table-header-group; }
}
"""
