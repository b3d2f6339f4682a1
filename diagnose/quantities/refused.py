"""Why a text is not read, before it is known what to suggest."""

from __future__ import annotations


class Refused(Exception):
    """A text is not read. ``what`` ends in what to type; an example or a suggestion is added to it.

    Suggestions are tried in order, and the first that would itself be accepted is shown. A ``what`` that ends
    in a full stop already says it all.
    """

    def __init__(self, what: str, *suggestions: str) -> None:
        super().__init__(what)
        self.what = what
        self.suggestions = suggestions


def quoted(text: str) -> str:
    """What was typed as it can stand in a sentence: short, and with nothing in it that is not printable."""
    shown = "".join(letter if letter.isprintable() else "�" for letter in text.strip())
    return f'"{shown[:40]}…"' if len(shown) > 40 else f'"{shown}"'
