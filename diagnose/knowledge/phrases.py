"""Patterns of wording, written so that a person of the trade can read and mend them.

A pattern is words in a row: ``tape|taped over`` finds either form of the first word. A star ends a word in any way
(``bypass*``), and ``...`` stands for up to seven other words of the same sentence (``prop* ... eye|edge``).
Hyphens count as spaces, and case does not count.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable

_BETWEEN = r",?\s+"
_GAP = r"(?:[^\s.;:!?]+\s+){0,7}?"


@functools.lru_cache(maxsize=4096)
def pattern(written: str) -> re.Pattern[str]:
    """What ``written`` finds in ``plain`` text. Any text is a pattern; nothing is special but ``*``, ``|``, ``...``."""
    words = plain(written).split()
    found = ""
    for index, word in enumerate(words):
        if word == "...":
            found += _GAP
            continue
        forms = [re.escape(form).replace(r"\*", r"\w*") for form in word.split("|") if form]
        found += f"(?:{'|'.join(forms)})" + (_BETWEEN if index < len(words) - 1 else "")
    return re.compile(rf"(?<!\w){found}(?!\w)")


@functools.lru_cache(maxsize=512)
def _any(words: tuple[str, ...]) -> re.Pattern[str]:
    """Whatever one of ``words`` finds."""
    return re.compile("|".join(pattern(each).pattern for each in words) if words else r"(?!)")


def plain(text: str) -> str:
    """Small letters, straight quotes, hyphens opened up, single spaces."""
    return " ".join(text.casefold().replace("’", "'").replace("-", " ").split())


def found_in(text: str, words: Iterable[str], unless: Iterable[str] = ()) -> str:
    """The first wording of ``text`` that one of ``words`` finds and ``unless`` does not excuse; ``""`` if none."""
    read = plain(text)
    wanted_words = tuple(words)
    # Most texts hold none of them, and what is harmless only takes away.
    if _any(wanted_words).search(read) is None:
        return ""
    for harmless in unless:
        read = pattern(harmless).sub(lambda match: "." * len(match[0]), read)
    for wanted in wanted_words:
        match = pattern(wanted).search(read)
        if match is not None:
            return match[0]
    return ""
