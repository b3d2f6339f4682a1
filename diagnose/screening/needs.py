"""What ending each suspect would take, and what of it is worth sending.

Who, with how many, from where, with which parts: each is a *need*, a chance for every suspect. To send it for nothing
costs something, to be without it costs another trip. With one decision a need, each needed or not, that is the
newsvendor's problem with a demand of nought or one: send when P(needed) × cost of being without is more than
P(not needed) × cost for nothing (Arrow, Harris & Marschak, *Optimal inventory policy*, 1951).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from diagnose.knowledge.model import Facts, Part, Remedy, Trees, Van, applies, applies_to, chance_of, holds
from diagnose.reasoning.situation import Array
from diagnose.screening.danger import shows_danger

SECOND_PERSON = "second person"
Kind = Literal["person", "second person", "access", "parts", "danger"]


@dataclass(frozen=True)
class Need:
    """One thing to send or to leave. ``chance`` is P(needed | cause) [causes]; costs are in minutes' worth."""

    kind: Kind
    id: str
    chance: Array
    without: float
    for_nothing: float

    def worth(self, belief: Array) -> bool:
        """Whether to send it, as the suspects stand."""
        needed = float(belief @ self.chance)
        return needed * self.without > (float(belief.sum()) - needed) * self.for_nothing


class Needs:
    """All needs on a door with ``facts`` that one of ``causes`` may be in, ``unlisted`` the last of them.

    ``doubts`` are the chances that a fact is not as it was told. What ``near``, the needs of the same causes on a door
    much like it, works out from the same facts is taken over.
    """

    def __init__(
        self,
        trees: Trees,
        causes: Sequence[str],
        facts: Facts,
        van: Van,
        doubts: Mapping[str, float] | None = None,
        near: Needs | None = None,
    ) -> None:
        self.trees, self.causes, self.facts, self.van = trees, tuple(causes), facts, van
        self.doubts: Mapping[str, float] = doubts or {}
        if near is not None:
            other = {fact for fact in {**facts, **near.facts} if facts.get(fact) != near.facts.get(fact)}
            other |= {fact for fact, _ in self.doubts.items() ^ near.doubts.items()}
            for name, hangs_on in near._hang_on.items():
                if hangs_on.isdisjoint(other):
                    vars(self)[name] = getattr(near, name)

    @cached_property
    def _hang_on(self) -> dict[str, Set[str]]:
        """What is worked out here, and the facts that it hangs on."""
        remedies, proofs = self.trees.remedies, self.trees.proofs.values()
        tried = {remedy for cause in self.causes[:-1] for remedy in self.trees.causes[cause].remedies}
        shares: Set[str] = {fact for remedy in tried for fact in remedies[remedy].applies}
        people = {fact for proof in proofs if proof.who in self._called for fact in (*proof.applies, *proof.unless)}
        places = {fact for conditions in self.van.reaches.values() for fact in conditions}
        return {
            **dict.fromkeys(("_hang_on", "_called", "danger"), frozenset[str]()),
            **dict.fromkeys(("_shares", "remedies", "uses", "second_person", "parts"), shares),
            "people": shares | people,
            "places": shares | places,
            **dict.fromkeys(("all", "_table"), shares | people | places),
        }

    @cached_property
    def _called(self) -> set[str]:
        """Those who do not come anyway."""
        return {person.id for person in self.trees.people.values() if person.call_out > 0}

    @cached_property
    def _shares(self) -> list[dict[str, float]]:
        return [usual_remedies(self.trees, cause, self.facts) for cause in self.causes[:-1]]

    @cached_property
    def remedies(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(remedy for each in self._shares for remedy in each))

    @cached_property
    def uses(self) -> Array:
        """P(this remedy is the one that ends it | cause), [causes, remedies]."""
        index = {remedy: i for i, remedy in enumerate(self.remedies)}
        # The last row is that of ``unlisted``: what it takes, nobody knows.
        uses = np.zeros((len(self.causes), len(self.remedies)))
        for row, each in enumerate(self._shares):
            for remedy, share in each.items():
                uses[row, index[remedy]] = share
        return uses

    @cached_property
    def all(self) -> tuple[Need, ...]:
        return (*self.people, *self.second_person, *self.places, *self.parts, *self.danger)

    @cached_property
    def people(self) -> tuple[Need, ...]:
        """Persons who do not come anyway, and who may do what some remedy or its proof asks for."""
        wanted: dict[str, Array] = defaultdict(lambda: np.zeros(len(self.causes)))
        always = self._proofs_in_any_case()
        for row, remedy in enumerate(self.remedies):
            for person in {*self.people_of(self.trees.remedies[remedy]), *always}:
                wanted[person] += self.uses[:, row]
        for person in always:
            wanted[person][-1] = 1.0
        return tuple(
            Need("person", person, np.minimum(chance, 1.0), self.trees.costs.second_trip, self._for_nothing(person))
            for person, chance in wanted.items()
        )

    @cached_property
    def second_person(self) -> tuple[Need, ...]:
        chance = self._chance([remedy for remedy in self.remedies if self.trees.remedies[remedy].crew > 1])
        cost = self._for_nothing(SECOND_PERSON)
        return (Need("second person", SECOND_PERSON, chance, self.trees.costs.second_trip, cost),)

    @cached_property
    def places(self) -> tuple[Need, ...]:
        """What it takes to work from a place that the van does not carry (a lift where its ladder is too short)."""
        wanted: dict[str, Array] = defaultdict(lambda: np.zeros(len(self.causes)))
        for row, remedy in enumerate(self.remedies):
            for place, chance in self.places_of(remedy).items():
                wanted[place] += self.uses[:, row] * chance
        return tuple(
            Need("access", place, chance, self.trees.costs.second_trip, self._for_nothing(place))
            for place, chance in wanted.items()
        )

    @cached_property
    def parts(self) -> tuple[Need, ...]:
        """The parts of each remedy that takes any; ``id`` is the remedy. Half of what it takes is of no use."""
        found = []
        for row, remedy in enumerate(self.remedies):
            parts = self.trees.remedies[remedy].parts
            if parts:
                cost = sum(carrying(self.trees, self.van, self.trees.parts[part], n) for part, n in parts.items())
                found.append(Need("parts", remedy, self.uses[:, row], self.trees.costs.second_trip, cost))
        return tuple(found)

    @cached_property
    def danger(self) -> tuple[Need, ...]:
        """To come today because the fault itself may be a danger; ``id`` is the urgency that says so."""
        hazardous = np.array([*(float(shows_danger(self.trees, c)) for c in self.causes[:-1]), 0.0])
        scale = self.trees.costs.second_trip
        return tuple(
            Need("danger", urgency.id, hazardous, scale * (1 - urgency.danger_likely), scale * urgency.danger_likely)
            for urgency in self.trees.urgencies.values()
            if urgency.danger_likely is not None
        )

    def loss(self, beliefs: Array) -> Array:
        """The expected cost of the best decision about every need, for each row of ``beliefs`` [rows, causes].

        Rows need not sum to 1: a row weighted by how likely it is gives a loss weighted likewise. That the van may be
        full is left out.
        """
        chances, without, for_nothing = self._table
        needed = beliefs @ chances
        other = beliefs.sum(axis=1, keepdims=True) - needed
        total: Array = np.minimum(needed * without, other * for_nothing).sum(axis=1)
        return total

    def sent(self, beliefs: Array) -> Array:
        """Which needs are worth sending, for each row of ``beliefs``: [rows, needs] of 0 and 1."""
        chances, without, for_nothing = self._table
        needed = beliefs @ chances
        result: Array = (needed * without > (beliefs.sum(axis=1, keepdims=True) - needed) * for_nothing).astype(float)
        return result

    @cached_property
    def _table(self) -> tuple[Array, Array, Array]:
        every = self.all
        chances = np.array([need.chance for need in every]).reshape(len(every), len(self.causes)).T
        without = np.array([need.without for need in every])
        return chances, without, np.array([need.for_nothing for need in every])

    def _chance(self, remedies: Iterable[str]) -> Array:
        named = set(remedies)
        columns = [i for i, remedy in enumerate(self.remedies) if remedy in named]
        chance: Array = self.uses[:, columns].sum(axis=1)
        return chance

    def people_of(self, remedy: Remedy) -> set[str]:
        """Who comes besides those who come anyway: for the remedy, and for the proofs that it names."""
        proofs = (self.trees.proofs[proof] for proof in remedy.proofs)
        named = {proof.who for proof in proofs if proof.who in self._called and applies(proof.applies, self.facts)}
        return named | self._called.intersection([remedy.who])

    def _proofs_in_any_case(self) -> set[str]:
        """Who must prove this door whatever is done to it, as far as the door is known."""
        proofs = [proof for proof in self.trees.proofs.values() if proof.who in self._called]
        required = (proof for proof in proofs if proof.required == "yes" and applies_to(proof, self.facts))
        return {proof.who for proof in required if holds(proof.applies, self.facts)}

    def places_of(self, remedy: str) -> dict[str, float]:
        """Places to work from that take more than the van carries → the chance that a remedy needs them."""
        place, van = self.trees.remedies[remedy].access, self.van
        if place in self._reached and place in van.beyond:
            return {van.beyond[place]: 1 - self._reached[place]} if self._reached[place] < 1 else {}
        return {place: 1.0} if place in van.beyond.values() else {}

    @cached_property
    def _reached(self) -> dict[str, float]:
        """The chance that what the van carries reaches a place."""
        return {place: chance_of(self.trees, c, self.facts, self.doubts) for place, c in self.van.reaches.items()}

    def _for_nothing(self, name: str) -> float:
        costs = {**self.van.send, **self.van.ask}
        if name in costs:
            return costs[name]
        if name in self.trees.people:
            return self.trees.people[name].call_out
        return self.trees.access[name].minutes if name in self.trees.access else 30.0


def usual_remedies(trees: Trees, cause: str, facts: Facts) -> dict[str, float]:
    """P(this remedy is the one that ends it), of a cause's remedies on a door with ``facts``; they sum to 1.

    They are tried by chance over cost, the next where one does not help.
    """
    able = {
        r: a for r, a in trees.causes[cause].remedies.items() if applies(trees.remedies[r].applies, facts) and a > 0
    }
    able = able or dict(trees.causes[cause].remedies)
    shares: dict[str, float] = {}
    left = 1.0
    for remedy in sorted(able, key=lambda r: (-able[r] / cost_of(trees, trees.remedies[r]), r)):
        shares[remedy] = left * able[remedy]
        left *= 1 - able[remedy]
    total = sum(shares.values())
    return {remedy: share / total for remedy, share in shares.items()} if total > 0 else {}


def cost_of(trees: Trees, remedy: Remedy) -> float:
    """A remedy's time and parts, in minutes' worth."""
    return max(remedy.minutes * remedy.crew + trees.price(remedy.parts) / trees.costs.money_per_minute, 0.5)


def carrying(trees: Trees, van: Van, part: Part, count: int) -> float:
    """What it costs to take ``count`` of a part along for nothing, in minutes' worth."""
    each = van.per_kilogram * part.weight + van.wear * part.price / trees.costs.money_per_minute
    return van.picking + count * each


def first_van(trees: Trees, wanted: str = "") -> Van:
    """The van named, else the first of the trees, else one that carries whatever is asked of it."""
    known: Mapping[str, Van] = trees.vans
    if wanted in known:
        return known[wanted]
    vans: Sequence[Van] = list(known.values())
    return vans[0] if vans else Van(id="any", title="van", weight=1e6, volume=1e6)
