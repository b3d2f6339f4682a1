"""What may be meant where a complaint is wanted: words that mean it, or that name a cause behind it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from diagnose.finding.complaints import both_meant, match, plain_match
from diagnose.finding.reading import trade_reader
from diagnose.finding.search import Shelf, Text
from diagnose.knowledge.model import Facts, Held, Symptom, Trees, applies

# Complaints that are given for a cause that is named, and causes that are looked at for them.
_MOST = 6
_MOST_CAUSES = 8


@dataclass(frozen=True)
class Meant:
    """Complaints that may be meant, the likeliest of each kind first; none stands in two of the lists.

    ``both`` are two or more that one sentence speaks of; ``sure`` says that the first of ``alike`` is plainly meant.
    """

    alike: tuple[Symptom, ...]
    behind: tuple[Symptom, ...]
    both: tuple[Symptom, ...]
    sure: bool

    @property
    def all(self) -> tuple[Symptom, ...]:
        """All of them; a cause that is named comes first where the words are no plain complaint."""
        return (*self.alike, *self.behind) if self.sure else (*self.behind, *self.alike)


def meant(trees: Trees, typed: str, facts: Facts | None = None) -> Meant:
    """What may be meant by ``typed``; empty lists where nothing is."""
    matches = match(trees, typed, facts)
    both = tuple(both_meant(matches))
    plain = plain_match(matches) is not None or bool(both)
    alike = [each.symptom for each in matches]
    raised = _raised(trees, typed, facts)
    # A word that begins many things finds them all; a complaint that is plainly meant is not put behind its causes.
    behind = [each for each in raised if not plain or each not in alike][:_MOST]
    return Meant(tuple(each for each in alike if each not in behind), tuple(behind), both, plain)


def _raised(trees: Trees, typed: str, facts: Facts | None) -> list[Symptom]:
    """The complaints that a cause so named shows as, those first that the best named causes show as the most."""
    shelf, ids = _causes(Held(trees))
    named = shelf.find(typed, whole=True)[:_MOST_CAUSES] if typed.strip() else []
    chances: dict[str, float] = {}
    for place, number in enumerate(named):
        for symptom in trees.symptoms.values():
            chance = symptom.causes.get(ids[number], 0.0) / (1 + place)
            if chance and applies(symptom.applies, facts or {}):
                chances[symptom.id] = max(chances.get(symptom.id, 0.0), chance)
    return [trees.symptoms[id] for id in sorted(chances, key=lambda id: -chances[id])]


@lru_cache(maxsize=4)
def _causes(held: Held) -> tuple[Shelf, list[str]]:
    causes = list(held.trees.causes.values())
    return Shelf([Text(cause.title) for cause in causes], trade_reader(held.trees)), [cause.id for cause in causes]
