"""From somebody's own words to the complaints they may mean, each with its chance; two in one sentence are both seen.

A naive Bayes over what the trees say of each complaint (``says``, the caller's wording, title): how common a complaint
is among all calls is the prior, each term of the sentence is evidence. Terms hang together, so their evidence counts
by a power below one (``_TEMPER``), as one tempers a posterior that would be too sure of itself.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from diagnose.finding.reading import Reader, as_known, clauses, readers
from diagnose.finding.reading import words as split
from diagnose.knowledge.load import kept_of
from diagnose.knowledge.model import Facts, Held, Symptom, Trees, applies

# These were chosen on the trees' own wordings, each left out in turn. Of the evidence of each term, what counts; of
# that again, what counts of a pair of words; and of the logarithm of how common a complaint is.
_TEMPER = 0.4
_PAIR = 0.5
_PRIOR = 0.3
# Wordings that a complaint is taken to have besides its own, spread as over all complaints.
_SMOOTH = 2.0
# What another must have, of the best one's chance, to be named: behind the first few, and among them.
_NEAR = 0.02
_NEGLIGIBLE = 0.0005
_FEW, _MOST = 4, 12
# What the best must have to be taken at its word, and how far it has to be ahead of the next.
_PLAIN = 0.45
_PLAIN_LEAD = 2.0
# Two complaints in one sentence: so likely is each by its part alone, and so much likelier both than any one for all.
_PART = 0.2
_BOTH = math.log(20)


@dataclass(frozen=True)
class Match:
    """A complaint that may be meant. ``chance`` is its share among all complaints; ``part`` the words it goes by."""

    symptom: Symptom
    chance: float
    part: str = ""


def match(trees: Trees, words: str, facts: Facts | None = None) -> list[Match]:
    """The complaints that ``words`` may mean, the likeliest first; in any language of the trees.

    Where parts of a sentence mean different complaints, those come first, each with its part.
    """
    symptoms = [symptom for symptom in trees.symptoms.values() if applies(symptom.applies, facts or {})]
    model = _model(Held(trees))
    chances = model.chances(words, symptoms)
    parts = _parts(model, words, symptoms) if chances else {}
    ranked = sorted(chances, key=lambda id: (id not in parts, -chances[id], id))
    best = max(chances.values(), default=0.0)
    least = [best * (_NEGLIGIBLE if place < _FEW else _NEAR) for place in range(_MOST)]
    kept = [id for id, enough in zip(ranked, least, strict=False) if id in parts or chances[id] >= enough]
    return [Match(trees.symptoms[id], *parts.get(id, (chances[id], words))) for id in kept]


def plain_match(matches: list[Match], least: float = _PLAIN) -> Symptom | None:
    """The one that is clearly meant, if one is: with a chance of at least ``least``."""
    if not matches or matches[0].chance < least:
        return None
    others = [each.chance for each in matches[1:] if each.part == matches[0].part]
    return matches[0].symptom if matches[0].chance >= _PLAIN_LEAD * max(others, default=0.0) else None


def in_their_words(trees: Trees, words: str) -> bool:
    """Whether people complain in these words: every one that says something is found in what they say."""
    model = _model(Held(trees))
    tongue = max(model.tongues, key=lambda each: each.evidence(words)[0])
    said = tongue.reader.stems(words)
    return bool(said) and all(each in tongue.stems for each in said)


def both_meant(matches: list[Match]) -> list[Symptom]:
    """The complaints that different parts of a sentence mean, where they do; otherwise none."""
    parted = [each.symptom for each in matches if each.part != matches[-1].part and each.chance >= _PLAIN]
    return parted if len(parted) > 1 else []


def how_common(trees: Trees, symptom: Symptom) -> float:
    """Of all calls, the share in which this is complained of, by what causes it; 0 to 1."""
    return min(1.0, sum(trees.causes[cause].base * chance for cause, chance in symptom.causes.items()))


def by_use(trees: Trees) -> list[str]:
    """The complaints, by id, the commonest first."""
    return sorted(trees.symptoms, key=lambda id: -how_common(trees, trees.symptoms[id]))


def families_by_use(trees: Trees) -> dict[str, list[Symptom]]:
    """Family → its complaints, the commonest family first, and of each the commonest complaint."""
    groups: dict[str, list[Symptom]] = {}
    for symptom in (trees.symptoms[id] for id in by_use(trees)):
        groups.setdefault(symptom.family, []).append(symptom)
    shares = {family: sum(how_common(trees, each) for each in group) for family, group in groups.items()}
    return {family: groups[family] for family in sorted(groups, key=lambda family: -shares[family])}


def _parts(model: _Model, words: str, symptoms: list[Symptom]) -> dict[str, tuple[float, str]]:
    """Where parts of a sentence mean different complaints: each with its chance by that part, and the part."""
    heard = [(piece, model.chances(piece, symptoms)) for piece in clauses(words)]
    heard = [(piece, chances) for piece, chances in heard if max(chances.values(), default=0.0) >= _PART]
    bests = {max(chances, key=lambda id: chances[id]): (piece, chances) for piece, chances in heard}
    if len(bests) < 2:
        return {}
    apart = sum(math.log(chances[id]) for id, (_, chances) in bests.items())
    together = max(sum(math.log(chances[each.id]) for _, chances in bests.values()) for each in symptoms)
    return {id: (chances[id], piece) for id, (piece, chances) in bests.items()} if apart > together + _BOTH else {}


# Stems, terms and sizes of a ``_Tongue``.
_Told = tuple[frozenset[str], str, dict[str, float]]


@dataclass(frozen=True)
class _Tongue:
    """What is known of the complaints in one language."""

    reader: Reader
    # Stems that occur.
    stems: frozenset[str]
    # Of each term whose wordings have it: lines in order, ``term TAB places``, a place in ``sizes`` for each wording.
    # As one text they take a tenth of the room of a table, and are read in no time.
    occurs: str
    # Complaint → how many wordings it has.
    sizes: dict[str, float]

    def evidence(self, words: str) -> tuple[int, dict[str, float]]:
        """How many of the words are of this language; and for each complaint log P(terms | it) - log P(terms)."""
        said = self.reader.stems(words)
        spelt = as_known(said, self.stems)
        own = len(split(words)) - len(said) + sum(each in self.stems for each in said)
        if not self.stems.intersection(spelt):
            return own, {}
        weights = dict.fromkeys(self.sizes, 0.0)
        total = sum(self.sizes.values()) or 1.0
        for term in self.reader.terms(spelt):
            occurs = self._whose(term)
            if not occurs:
                continue
            share, of = len(occurs) / total, Counter(occurs)
            counted = _PAIR if " " in term else 1.0
            for place, (id, size) in enumerate(self.sizes.items()):
                weights[id] += counted * math.log((of[place] + _SMOOTH * share) / ((size + _SMOOTH) * share))
        return own, weights

    def _whose(self, term: str) -> list[int]:
        """The complaints that a term occurs with, by their places in ``sizes``, once for each wording that has it."""
        low, high = 0, len(self.occurs)
        while low < high:
            start = max(low, self.occurs.rfind("\n", low, (low + high) // 2) + 1)
            end = self.occurs.index("\n", start) + 1
            found, _, places = self.occurs[start : end - 1].partition("\t")
            if found == term:
                return [int(place) for place in places.split()]
            low, high = (end, high) if found < term else (low, start)
        return []


@dataclass(frozen=True)
class _Model:
    tongues: tuple[_Tongue, ...]
    prior: Mapping[str, float]

    def chances(self, words: str, symptoms: list[Symptom]) -> dict[str, float]:
        """P(complaint | words), in the language that has the most of the words; none where they say nothing."""
        heard = [tongue.evidence(words) for tongue in self.tongues]
        _, evidence = max(heard, key=lambda pair: pair[0], default=(0, {}))
        if not evidence:
            return {}
        weights = {each.id: self.prior[each.id] + _TEMPER * evidence[each.id] for each in symptoms}
        most = max(weights.values(), default=0.0)
        shares = {id: math.exp(weight - most) for id, weight in weights.items()}
        total = sum(shares.values())
        return {id: share / total for id, share in shares.items()}


@lru_cache(maxsize=4)
def _model(held: Held) -> _Model:
    trees = held.trees

    def read() -> tuple[_Told, ...]:
        return tuple(_told(trees, reader) for reader in readers(held))

    told = kept_of(trees, "complaints", tuple[_Told, ...], read, "finding")
    tongues = tuple(_Tongue(reader, *each) for reader, each in zip(readers(held), told, strict=True))
    rates = {each.id: _PRIOR * math.log(max(how_common(trees, each), 1e-4)) for each in trees.symptoms.values()}
    return _Model(tongues, rates)


def _told(trees: Trees, reader: Reader) -> _Told:
    stems: set[str] = set()
    occurs: dict[str, list[str]] = {}
    sizes: dict[str, float] = {}
    for place, symptom in enumerate(trees.symptoms.values()):
        wordings = _wordings(trees, symptom, reader.language)
        sizes[symptom.id] = float(len(wordings))
        for wording in wordings:
            read = reader.stems(wording)
            stems.update(read)
            for term in reader.terms(read):
                occurs.setdefault(term, []).append(str(place))
    lines = "".join(f"{term}\t{' '.join(places)}\n" for term, places in sorted(occurs.items()))
    return frozenset(stems), lines, sizes


def _wordings(trees: Trees, symptom: Symptom, language: str) -> list[str]:
    """All the ways in which a complaint is put in a language."""
    if not language:
        return [symptom.title, symptom.caller, symptom.plain, symptom.id.replace("-", " "), *symptom.says]
    texts = trees.languages[language].texts
    ways = trees.sayings[language].says.get(symptom.id, ()) if language in trees.sayings else ()
    keys = (f"symptoms.{symptom.id}.caller", f"symptoms.{symptom.id}.plain")
    return [*(texts[key] for key in keys if key in texts), *ways]
