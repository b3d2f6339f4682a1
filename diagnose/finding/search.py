"""Entries of any list by what is typed: any words in any order, begun or misspelt, or others that mean the same."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.finding.reading import Reader, nearest, words

# How well a typed word fits an entry: as itself, as its beginning, by another word for it, by letters inside a word,
# with slips of the keys; and what it counts where it stands beside the title.
_SAME, _BEGUN, _MEANT, _INSIDE, _SLIP = 1.0, 0.9, 0.6, 0.4, 0.5
_BESIDE = 0.35
# Each word of a title that was not typed takes a little away; typed words that stand together give a little, and so
# does one with which the title begins.
_LENGTH = 0.03
_TOGETHER = 0.15
# Letters inside of words are looked for from so many on.
_LEAST_INSIDE = 3


@dataclass(frozen=True)
class Text:
    """What is searched of an entry: its title, and what else is said of it."""

    title: str
    beside: str = ""


@dataclass(frozen=True)
class _Field:
    """A text made ready: the words as written, their stems, and what they mean."""

    words: tuple[str, ...]
    stems: frozenset[str]
    meanings: frozenset[str]
    # What the first word says and means: the verb of a repair, the thing of a check.
    begins: frozenset[str]


# Of each text its title, and what is said beside it.
Fields = list[tuple[_Field, _Field]]


def read_fields(texts: Sequence[Text], reader: Reader) -> Fields:
    """Texts made ready to be searched."""
    return [(_read(text.title, reader), _read(text.beside, reader)) for text in texts]


def _read(text: str, reader: Reader) -> _Field:
    stems = reader.stems(text)
    met = reader.meanings(stems)
    begins = frozenset([*stems[:1], *(meaning for place, _, meaning in met if place == 0)])
    meanings = frozenset(meaning for _, _, meaning in met)
    return _Field(tuple(words(text)), frozenset(stems), meanings, begins)


class Shelf:
    """Texts of one list, made ready to be searched many times over."""

    def __init__(self, texts: Sequence[Text], reader: Reader, fields: Fields | None = None) -> None:
        """``fields`` is what ``read_fields`` made of the texts, where that is kept."""
        self._reader = reader
        self._fields = read_fields(texts, reader) if fields is None else fields
        self._known = {word for pair in self._fields for field in pair for word in field.words}

    def find(self, typed: str, *, whole: bool = False) -> list[int]:
        """The places of the texts that fit, the best first; those that fit alike stay in their order.

        All words must be found; where no text has them all, those that have the most of them, at least half, unless
        ``whole`` is wanted.
        """
        asked = [self._asked(word) for word in self._meant(words(typed))]
        if not asked:
            return list(range(len(self._fields))) if not typed.strip() else []
        fits = [[_fit(each, title, beside) for each in asked] for title, beside in self._fields]
        # A word that few texts have says more than one that most have.
        telling = [_rarity(sum(row[n] > 0 for row in fits), len(fits)) for n in range(len(asked))]
        most = max((sum(fit > 0 for fit in row) for row in fits), default=0)
        if most * 2 < len(asked) or (whole and most < len(asked)):
            return []
        scores = {
            place: sum(fit * weight for fit, weight in zip(row, telling, strict=True)) * _shape(title, asked)
            for place, (row, (title, _)) in enumerate(zip(fits, self._fields, strict=True))
            if sum(fit > 0 for fit in row) == most and most
        }
        return sorted(scores, key=lambda place: (-round(scores[place], 6), place))

    def _meant(self, typed: list[str]) -> list[str]:
        """The typed words that say something; all, where none does."""
        said = [word for word in typed if self._reader.stems(word)]
        return said or typed

    def _asked(self, word: str) -> _Asked:
        stems = self._reader.stems(word)
        begun = any(known.startswith(word) for known in self._known)
        meanings = frozenset(meaning for _, _, meaning in self._reader.meanings(stems))
        if not begun and not meanings:
            meanings = self._reader.meanings_begun(word)
        near = "" if begun or meanings else nearest(word, self._known)
        if near in ("", word):
            return _Asked(word, frozenset(stems), meanings)
        return _Asked(word, frozenset(), frozenset(), frozenset(self._reader.stems(near)))


@dataclass(frozen=True)
class _Asked:
    """A typed word: its stem and what it means, or the stem of the known word it is a slip of."""

    word: str
    stems: frozenset[str]
    meanings: frozenset[str]
    near: frozenset[str] = frozenset()


def _fit(asked: _Asked, title: _Field, beside: _Field) -> float:
    return max(_fit_of(asked, title), _BESIDE * _fit_of(asked, beside))


def _fit_of(asked: _Asked, field: _Field) -> float:
    if asked.word in field.words or asked.stems & field.stems:
        return _SAME
    if any(word.startswith(asked.word) for word in field.words):
        return _BEGUN
    if asked.meanings & field.meanings:
        return _MEANT
    if asked.near & field.stems:
        return _SLIP
    if len(asked.word) >= _LEAST_INSIDE and any(asked.word in word for word in field.words):
        return _INSIDE
    return 0.0


def _rarity(having: int, all_: int) -> float:
    return math.log(1 + all_ / max(having, 1))


def _shape(title: _Field, asked: list[_Asked]) -> float:
    """How much of a title was typed, whether in a row, and whether with what it begins with."""
    together = len(asked) > 1 and " ".join(each.word for each in asked) in " ".join(title.words)
    begins = any((each.stems | each.meanings) & title.begins for each in asked)
    return (1 + _TOGETHER * (together + begins)) / (1 + _LENGTH * max(len(title.words) - len(asked), 0))
