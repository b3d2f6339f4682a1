"""Plain characters for the typographic ones that telephones, keyboards and copied text put in their place."""

from __future__ import annotations

import re
import unicodedata

from diagnose.quantities.refused import Refused
from diagnose.quantities.units import LOOKALIKES

LONGEST_TEXT = 200

_PLAIN = {
    **dict.fromkeys(map(ord, "−–‐‑﹣－"), "-"),
    **dict.fromkeys(map(ord, "′‘’ʹ´"), "'"),
    **dict.fromkeys(map(ord, "″“”ʺ"), '"'),
    **dict.fromkeys(map(ord, "⁄∕"), "/"),
    **dict.fromkeys(map(ord, "⋅∙•"), "·"),
    **dict.fromkeys(map(ord, "º˚"), "°"),
    **LOOKALIKES,
    ord("℃"): "°C",
    ord("℉"): "°F",
}
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789")
_LOWERED = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")

# Control, invisible, broken, private and unassigned characters, and line ends.
_NOT_TYPED = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")

# Set around a fraction that was one character, so that 3½ becomes 3 1/2 and never 31/2. Control characters,
# which no text that gets so far can hold.
_OPEN, _CLOSE = "\0", "\1"


def plain_text(text: str) -> str:
    """The text in plain characters and single spaces, its fractions written out.

    Raises:
        Refused: it is too long, or holds a character that nobody typed.
    """
    if len(text) > LONGEST_TEXT:
        raise Refused(f"That is {len(text)} characters, too long for a reading. Type one number and its unit")
    if any(unicodedata.category(letter) in _NOT_TYPED for letter in text):
        printable = "".join(letter if letter.isprintable() else " " for letter in text)
        raise Refused(
            "There is an invisible or control character in that. Type the number and its unit by hand",
            " ".join(printable.split()),
        )
    text = text.translate(_PLAIN)
    text = "".join(" " if unicodedata.category(letter) == "Zs" else letter for letter in text)
    text = re.sub(r"([⁰¹²³⁴⁵⁶⁷⁸⁹]+)/([₀₁₂₃₄₅₆₇₈₉]+)", _raised_and_lowered, text)
    text = "".join(map(_written_out, text))
    text = re.sub(rf"(?<=[0-9]){_OPEN}|{_CLOSE}(?=[\w.,/])", " ", text)
    text = text.replace(_OPEN, "").replace(_CLOSE, "")
    text = re.sub(r" +", " ", text).strip()
    return re.sub(r" ?/ ?", "/", text).replace("''", '"')


def _raised_and_lowered(match: re.Match[str]) -> str:
    """¹⁄₈ as 1/8."""
    return f"{_OPEN}{match[1].translate(_RAISED)}/{match[2].translate(_LOWERED)}{_CLOSE}"


def _written_out(letter: str) -> str:
    """½ as 1/2; any other character as it is."""
    if not unicodedata.decomposition(letter).startswith("<fraction>"):
        return letter
    return _OPEN + unicodedata.normalize("NFKC", letter).replace("⁄", "/") + _CLOSE
