"""Markdown that is written here, and the HTML page made of it.

Whatever a person typed, or a tree says, is escaped on its way in, so that in neither form can it become a heading, a
table or a script.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from diagnose.calls.web_page import web_page


def html_page(title: str, body: str, style: str = "") -> str:
    """One page that needs nothing beside itself, around ``body`` in HTML; ``style`` is added to the stylesheet."""
    return web_page(title, _STYLE + style, body)


def html_of(markdown: str) -> str:
    """Markdown that was written here, as HTML."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    # None of these is ever written here, so none can be typed either.
    reader.disable(["link", "image", "autolink", "html_inline", "html_block", "reference", "fence", "code"])
    return str(reader.render(markdown))


def escape(text: str) -> str:
    """Text as it stands in one line of Markdown, whatever is in it."""
    line = " ".join("".join(c if c.isprintable() or c.isspace() else "�" for c in text).split())
    line = re.sub(r"([\\`*_{}\[\]<>#|~&!$])", r"\\\1", line)
    # What makes a list or a rule only at the start of a line; "-67 dBm" and "1.4 V" make none.
    line = re.sub(r"^([-+])(?=\s|$)|^([-=])(?=[-=\s]*$)", r"\\\g<0>", line)
    return re.sub(r"^(\d{1,9})([.)])(?=\s|$)", r"\1\\\2", line)


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """A Markdown table of cells that are escaped already, and an empty line."""
    lines = [head, ["---"] * len(head), *rows]
    return [f"| {' | '.join(cells)} |" for cells in lines] + [""]


_STYLE = """
:root { color-scheme: light; }
body { font: 11pt/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; color: #111; background: #fff;
       max-width: 48rem; margin: 2rem auto; padding: 0 1rem; overflow-wrap: break-word; }
h1 { font-size: 1.5rem; margin-bottom: .5rem; }
h1 + p { border: 1px solid #111; padding: .5rem .75rem; }
h2 { font-size: 1.15rem; border-bottom: 1px solid #888; margin: 1.6rem 0 .5rem; }
h3 { font-size: 1rem; margin: 1rem 0 .3rem; }
table { border-collapse: collapse; width: 100%; font-size: .9rem; }
th, td { text-align: left; vertical-align: top; padding: .25rem .4rem; border-bottom: 1px solid #ccc; }
thead th:empty { padding: 0; }
hr { border: 0; border-top: 1px solid #888; margin-top: 2rem; }
hr + p { font-size: .85rem; }
@page { size: auto; margin: 16mm 14mm; }
@media print {
  body { font-size: 9.5pt; max-width: none; margin: 0; padding: 0; }
  h2, h3 { break-after: avoid; }
  tr, li { break-inside: avoid; }
  thead { display: table-header-group; }
}
"""
