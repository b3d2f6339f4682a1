"""From a caller's own words to the complaints they may mean: shared words, the rare ones counting most."""

from __future__ import annotations

import difflib
import itertools
import math
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from diagnose.knowledge.model import Facts, Held, Symptom, Trees, applies
from diagnose.screening.spoken import Spoken

# A word this long is the same word with another ending: "closes", "closing".
_STEM = 4
_SHORTEST = 2
# Of the best one's score, what another must have to be named too; and what the best must have to be taken at its word.
_NEAR = 0.4
_PLAIN_LEAD = 1.15
_LEAST = 0.1
_COMMON = 0.15
# A pair of words counts so much of what a single one does.
_PAIR = 0.6


@dataclass(frozen=True)
class Match:
    """A complaint that may be meant. ``score`` is the cosine of the two texts' weighted words, 0 to 1."""

    symptom: Symptom
    score: float


def match(trees: Trees, words: str, facts: Facts | None = None) -> list[Match]:
    """The complaints that ``words`` may mean, the likeliest first; in any language of the trees."""
    said = Counter(_stems(words))
    if not said:
        return []
    symptoms = [symptom for symptom in trees.symptoms.values() if applies(symptom.applies, facts or {})]
    documents, rarity = _library(Held(trees))
    spelt = Counter({_as_known(stem, rarity): count for stem, count in said.items()})
    # A word that nobody here uses says that something else is meant, though less than one that is known.
    weights = {stem: rarity.get(stem, 0.5) for stem in spelt}
    length = math.sqrt(sum(weight * weight for weight in weights.values()))
    # Of two complaints that fit alike, the one heard more often is meant.
    common = {s.id: sum(trees.causes[c].base * chance for c, chance in s.causes.items()) for s in symptoms}
    found = []
    for symptom in symptoms:
        for document in documents[symptom.id]:
            own = math.sqrt(sum((share * rarity[stem]) ** 2 for stem, share in document.items()))
            shared = sum(weights[stem] ** 2 * document[stem] for stem in spelt if stem in document)
            if shared:
                found.append(Match(symptom, shared / (length * own) * common[symptom.id] ** _COMMON))
    best: dict[str, Match] = {}
    for each in sorted(found, key=lambda each: (-each.score, each.symptom.id)):
        best.setdefault(each.symptom.id, each)
    ranked = list(best.values())
    return [each for each in ranked if each.score >= _NEAR * ranked[0].score]


def plain_match(matches: list[Match]) -> Symptom | None:
    """The one that is clearly meant, if one is."""
    if not matches or matches[0].score < _LEAST:
        return None
    if len(matches) > 1 and matches[0].score < _PLAIN_LEAD * matches[1].score:
        return None
    return matches[0].symptom


@lru_cache(maxsize=4)
def _library(held: Held) -> tuple[dict[str, list[dict[str, float]]], dict[str, float]]:
    """For each complaint its texts as weighted stems, one for each language, and how telling each stem is."""
    trees = held.trees
    tongues = [Spoken(trees), *(Spoken(trees, language) for language in trees.languages)]
    documents = {s.id: [_document(trees, s, tongue) for tongue in tongues] for s in trees.symptoms.values()}
    counts = Counter(stem for each in documents.values() for stem in {stem for document in each for stem in document})
    return documents, {
        stem: math.sqrt(math.log(1 + len(documents) / count)) * (_PAIR if " " in stem else 1.0)
        for stem, count in counts.items()
    }


def _document(trees: Trees, symptom: Symptom, tongue: Spoken) -> dict[str, float]:
    """The stems by which a complaint is spoken of: the caller's wording counts full, the trade's title less."""
    document: dict[str, float] = {}
    family = trees.families.get(symptom.family)
    for weight, text in (
        (1.0, tongue.symptom(symptom)),
        (0.9, tongue.symptom_plain(symptom)),
        (0.9, symptom.title if not tongue.language else ""),
        (0.3, family.title if family and not tongue.language else ""),
    ):
        for stem in _stems(text):
            document.setdefault(stem, weight)
    return document


def _stems(text: str) -> list[str]:
    """Words without case, accents and endings; those that say nothing are left out."""
    bare = "".join(c for c in unicodedata.normalize("NFD", text.casefold()) if not unicodedata.combining(c))
    words = re.findall(r"[a-z0-9]+", bare.replace("'", ""))
    stems = [_stem(word) for word in words if len(word) >= _SHORTEST and word not in _EMPTY]
    # Two words in a row say more than either: "opens itself".
    return [*stems, *(f"{one} {other}" for one, other in itertools.pairwise(stems))]


def _stem(word: str) -> str:
    for ending in ("ing", "ed", "es", "s", "ly", "ndo", "ado", "ada", "ar", "er", "ir", "an", "en", "e", "a", "o"):
        if word.endswith(ending) and len(word) - len(ending) >= _STEM:
            return word.removesuffix(ending)
    return word


def _as_known(stem: str, known: Iterable[str]) -> str:
    """A stem as the trees spell it, where it is one of theirs with a slip of the keys."""
    if stem in set(known) or len(stem) < _STEM:
        return stem
    near = difflib.get_close_matches(stem, list(known), 1, 0.84)
    return near[0] if near else stem


_EMPTY_WORDS = """
a an the it its is are was were be been am i we you he she they them his her our your my me us this that these those
and or but so if then than as at by for from in into of on off to up with out over not no all any some one when while
there here just only also very much more most other again back still now door doors gate please hello hi have has had
do does did done can could will would should may get gets got go goes going went come comes
el la los las un una unos unas y o pero de del al en con por para que se es son esta este esto ese esa lo le les su sus
mi nos ya muy mas como cuando si hay ha han puerta porton favor hola
"""
_EMPTY = frozenset(_EMPTY_WORDS.split())
