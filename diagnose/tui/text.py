"""The one way by which words of trees and of people reach the screen: as they are, never read as markup.

Textual reads ``[psi]`` in a plain string as a tag and loses it; ``Content`` does not. Everything that is shown goes
through ``plain`` (a piece with a style) or ``assemble`` (several), and what must stay on one line through ``one_line``.
"""

from __future__ import annotations

from collections.abc import Iterable

from textual.content import Content

Part = str | Content | tuple[str, str]


def printable(text: str) -> str:
    """``text`` with every character that could move the cursor or break the screen replaced by a space."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() or letter == "\n" else " " for letter in text)


def plain(text: str, style: str = "") -> Content:
    """``text`` as it is, in ``style`` (words such as ``bold`` or a colour of the theme such as ``$warning``)."""
    return Content.styled(printable(text), style) if text else Content("")


def assemble(*parts: Part) -> Content:
    """Several pieces in a row; a pair is (text, style)."""
    return Content.assemble(*(part if isinstance(part, Content) else _piece(part) for part in parts))


def _piece(part: str | tuple[str, str]) -> Content:
    return plain(part) if isinstance(part, str) else plain(*part)


def stack(lines: Iterable[Content]) -> Content:
    """Several lines below each other."""
    return Content("\n").join(list(lines))


def one_line(text: str) -> str:
    """``text`` without line breaks and doubled spaces."""
    return " ".join(printable(text).split())


def content_of(shown: object) -> str:
    """The letters of what a widget shows."""
    return str(getattr(shown, "plain", shown))


def fit(content: Content, width: int) -> Content:
    """``content`` on one line of at most ``width`` cells; what is cut off is marked by an ellipsis."""
    return content.truncate(max(width, 1), ellipsis=True)
