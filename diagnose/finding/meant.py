"""What may be meant where a complaint is wanted: words that mean it, or that name a cause behind it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from diagnose.finding.complaints import both_meant, in_their_words, match, plain_match
from diagnose.finding.reading import trade_reader
from diagnose.finding.search import Fields, Shelf, Text, read_fields
from diagnose.knowledge.load import kept_file, kept_of
from diagnose.knowledge.model import Facts, Held, Symptom, Trees, applies

# Complaints that are given for a cause that is named, and causes that are looked at for them.
_MOST = 6
_MOST_CAUSES = 8


@dataclass(frozen=True)
class Meant:
    """Complaints that may be meant, the likeliest of each kind first; none stands in two of the lists.

    ``both`` are two or more that one sentence speaks of; ``sure`` says that the first of ``alike`` is plainly meant,
    and ``in_their_words`` that people complain in these words, whatever a cause is called.
    """

    alike: tuple[Symptom, ...]
    behind: tuple[Symptom, ...]
    both: tuple[Symptom, ...]
    sure: bool
    in_their_words: bool

    @property
    def all(self) -> tuple[Symptom, ...]:
        """All of them; what a cause shows as comes first where nobody would complain in these words."""
        return (*self.alike, *self.behind) if self.in_their_words else (*self.behind, *self.alike)


def meant(trees: Trees, typed: str, facts: Facts | None = None) -> Meant:
    """What may be meant by ``typed``; empty lists where nothing is."""
    matches = match(trees, typed, facts)
    both = tuple(both_meant(matches))
    plain = plain_match(matches) is not None or bool(both)
    spoken = plain or in_their_words(trees, typed)
    alike = [each.symptom for each in matches]
    behind = [each for each in _raised(trees, typed, facts) if not spoken or each not in alike][:_MOST]
    alike = [each for each in alike if each not in behind]
    return Meant(tuple(alike), tuple(behind), both, plain, spoken)


def make_ready(trees: Trees) -> None:
    """Have what is searched kept in the cache, so that what is typed first finds its words without delay.

    It is read when something is typed: most of a call goes by without.
    """
    if not kept_file(trees, "causes", "finding").exists():
        meant(trees, "door")


def _raised(trees: Trees, typed: str, facts: Facts | None) -> list[Symptom]:
    """The complaints that the causes so named show as, those first that are heard of them the most."""
    shelf, ids = _causes(Held(trees))
    named = shelf.find(typed, whole=True)[:_MOST_CAUSES] if typed.strip() else []
    chances: dict[str, float] = {}
    for cause in (trees.causes[ids[number]] for number in named):
        for symptom in trees.symptoms.values():
            if cause.id in symptom.causes and applies(symptom.applies, facts or {}):
                chances[symptom.id] = chances.get(symptom.id, 0.0) + cause.base * symptom.causes[cause.id]
    return [trees.symptoms[id] for id in sorted(chances, key=lambda id: -chances[id])]


@lru_cache(maxsize=4)
def _causes(held: Held) -> tuple[Shelf, list[str]]:
    reader, causes = trade_reader(held.trees), held.trees.causes.values()
    texts = [Text(cause.title) for cause in causes]
    fields = kept_of(held.trees, "causes", Fields, lambda: read_fields(texts, reader), "finding")
    return Shelf(texts, reader, fields), [cause.id for cause in causes]
