"""What somebody says or types, read as terms that can be compared: stems, the trade's synonyms, negations, word pairs.

Stems are those of the Snowball algorithms (Porter 2001). Nothing of the trade stands here: which words mean one thing
is an entry of the trees (``synonyms``).
"""

from __future__ import annotations

import importlib.util
import re
import sys
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from diagnose.knowledge.load import kept_of
from diagnose.knowledge.model import Held, Trees

if TYPE_CHECKING:
    from snowballstemmer.basestemmer import BaseStemmer

# Shorter words are not taken for the beginnings or slips of others, and a slip is at least so alike, 0 to 1.
_LEAST_FOR_BEGINNING = 3
_LEAST_FOR_SLIP = 4
_LIKE = 0.74
_LIKE_SHORT = 0.79
# A pair of words may have this many others between them; what a negation reaches.
_REACH = 2
_NOT_REACH = 3
NOT = "not"

_SNOWBALL = {"": "english", "es": "spanish", "de": "german", "fr": "french", "pt": "portuguese", "it": "italian"}
# Per language: what denies, and what says nothing. Directions, "only", "back" and "again" are never thrown away.
_DENIES = {
    "": """not no never cannot cant wont dont doesnt didnt isnt wasnt arent aint wouldnt couldnt shouldnt hasnt havent
        hadnt nor without neither""",
    "es": "no nunca ni sin jamas tampoco",
}
_EMPTY = {
    "": """a an the it its is are was were be been being am i im ive we you he she they them his her our your my me us
        this that these those thats and or but so if then than as at for from in into of with will would can could do
        does did done has have had to ur u there theres hello hi please just really very some like also now here""",
    "es": """a el la los las un una unos unas y o pero de del al en con por para que es son esta este esto ese esa lo le
        les su sus mi nos me muy mas como cuando si hay ha han favor hola""",
}


@dataclass(frozen=True)
class Reader:
    """Reads texts of one language. ``phrases`` are the synonyms: their words' stems in a row, and what they mean."""

    language: str = ""
    phrases: dict[str, tuple[tuple[tuple[str, ...], str], ...]] = field(default_factory=dict)

    def stems(self, text: str) -> list[str]:
        """The words in order, without case, accents and endings; what denies is ``not``, what says nothing is gone."""
        denies, empty = _words_of(_DENIES, self.language), _words_of(_EMPTY, self.language)
        return [
            NOT if word in denies else stem(word, self.language)
            for word in words(text)
            if word in denies or word not in empty
        ]

    def meanings(self, stems: list[str]) -> list[tuple[int, int, str]]:
        """The synonyms met, each with the place where it begins and its length; their names begin with ``=``."""
        met = []
        for place, first in enumerate(stems):
            for phrase, meaning in self.phrases.get(first, ()):
                if tuple(stems[place : place + len(phrase)]) == phrase:
                    met.append((place, len(phrase), meaning))
        return met

    def meanings_begun(self, word: str) -> frozenset[str]:
        """The synonyms of one word that begin with what is typed so far."""
        if len(word) < _LEAST_FOR_BEGINNING:
            return frozenset()
        begun = (phrases for first, phrases in self.phrases.items() if first.startswith(word))
        return frozenset(meaning for phrases in begun for phrase, meaning in phrases if len(phrase) == 1)

    def terms(self, stems: list[str]) -> set[str]:
        """All that tells one text from another: words, what they mean, pairs in their order, and what is denied."""
        met = [(place, meaning) for place, _, meaning in self.meanings(stems)]
        row: list[tuple[int, str]] = sorted([*enumerate(stems), *met])
        terms = {term for _, term in row}
        for place, term in row:
            for later, other in row:
                gap = later - place
                if 0 < gap <= _REACH and (term[:1] == "=") == (other[:1] == "="):
                    terms.add(f"{term} {other}")
                if term == NOT and 0 < gap <= _NOT_REACH:
                    terms.add(f"{NOT} {other}")
        return terms


def words(text: str) -> list[str]:
    """Words in lower case without accents; what stands after an apostrophe belongs to the word."""
    bare = "".join(c for c in unicodedata.normalize("NFD", text.casefold()) if not unicodedata.combining(c))
    return re.findall(r"[a-z0-9]+", re.sub(r"['’`´]", "", bare))


@lru_cache(maxsize=16384)
def stem(word: str, language: str) -> str:
    """A word without its ending; of a language without rules of its own, the word."""
    return str(_stemmer(language).stemWord(word)) if language in _SNOWBALL else word


def as_known(stems: list[str], known: Collection[str]) -> list[str]:
    """Stems as they are known, where one is the beginning of a known one, or one with slips of the keys."""
    return [each if each in known else nearest(each, known) for each in stems]


def nearest(word: str, known: Collection[str]) -> str:
    """The known word that is meant by one that is not known; the word itself where there is none like it."""
    if word.isdecimal() or len(word) < _LEAST_FOR_BEGINNING:
        return word
    begun = min((each for each in known if each.startswith(word)), key=lambda each: (len(each), each), default="")
    if begun or len(word) < _LEAST_FOR_SLIP:
        return begun or word
    from rapidfuzz import process
    from rapidfuzz.distance import DamerauLevenshtein

    alike = _LIKE if len(word) > _LEAST_FOR_SLIP + 1 else _LIKE_SHORT
    found = process.extractOne(
        word,
        [each for each in known if len(each) >= _LEAST_FOR_SLIP - 1],
        scorer=DamerauLevenshtein.normalized_similarity,
        score_cutoff=alike,
    )
    return str(found[0]) if found else word


@lru_cache(maxsize=8)
def readers(held: Held) -> tuple[Reader, ...]:
    """A reader for the language of the trees, and one for each other that they have."""

    def read() -> tuple[Reader, ...]:
        return tuple(_reader(held.trees, language) for language in ("", *held.trees.languages))

    return kept_of(held.trees, "synonyms", tuple[Reader, ...], read, "finding")


def trade_reader(trees: Trees) -> Reader:
    """The reader for the language of the trees."""
    return readers(Held(trees))[0]


def _reader(trees: Trees, language: str) -> Reader:
    plain = Reader(language)
    phrases: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for synonym in trees.synonyms.values():
        for phrase in synonym.words if synonym.language == language else ():
            stems = tuple(plain.stems(phrase))
            if stems:
                phrases.setdefault(stems[0], []).append((stems, f"={synonym.id}"))
    return Reader(language, {first: tuple(found) for first, found in phrases.items()})


@lru_cache(maxsize=8)
def _stemmer(language: str) -> BaseStemmer:
    # The package loads the rules of all its languages as soon as it runs: it stands by name, and one of them is loaded.
    if "snowballstemmer" not in sys.modules and (found := importlib.util.find_spec("snowballstemmer")):
        sys.modules["snowballstemmer"] = importlib.util.module_from_spec(found)
    name = _SNOWBALL[language]
    return getattr(importlib.import_module(f"snowballstemmer.{name}_stemmer"), f"{name.title()}Stemmer")()


def _words_of(table: Mapping[str, str], language: str) -> frozenset[str]:
    return _split(table.get(language, ""))


@lru_cache(maxsize=16)
def _split(text: str) -> frozenset[str]:
    return frozenset(text.split())


def clauses(text: str) -> Iterator[str]:
    """The parts of a sentence that may each be a complaint of its own."""
    for part in re.split(r"[.,;:!?]|\b(?:and|also|plus|besides|y|e|ademas|además|tambien|también)\b", text):
        if part.strip():
            yield part.strip()
