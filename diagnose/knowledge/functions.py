"""How the functions of a thing hang together: what goes with what is lost, and what a complaint says of it.

What needs a function that is lost is lost with it, down the chain; so with what is weak, and with what fails at times.
What happens unasked goes no further: the rest works, only for nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from diagnose.knowledge.model import Cause, Facts, Held, Loss, Symptom, Trees, all_from, applies

# A complaint that a function lacks in one way is brought about by causes that take it in one of these.
_BROUGHT_ABOUT: Mapping[Loss, frozenset[Loss]] = {
    "lost": frozenset({"lost", "weak", "at times"}),
    "weak": frozenset({"weak"}),
    "at times": frozenset({"at times", "weak"}),
    "unwanted": frozenset({"unwanted"}),
}


@dataclass(frozen=True)
class Chain:
    """The functions of one thing: ``below`` names what is lost with each, itself among them."""

    below: Mapping[str, frozenset[str]]
    # What was answered already, by what a cause takes: every complaint is asked of every cause.
    _taken: dict[tuple[tuple[str, Loss], ...], Mapping[str, frozenset[Loss]]] = field(
        default_factory=dict, repr=False, compare=False
    )

    def taken(self, cause: Cause) -> Mapping[str, frozenset[Loss]]:
        """All that a cause takes away, and how."""
        takes = tuple(cause.takes.items())
        if takes not in self._taken:
            self._taken[takes] = self._work_out(cause)
        return self._taken[takes]

    def _work_out(self, cause: Cause) -> dict[str, frozenset[Loss]]:
        found: dict[str, set[Loss]] = {}
        for function, loss in cause.takes.items():
            reach = frozenset({function}) if loss == "unwanted" else self.below.get(function, frozenset())
            for each in reach:
                if each in self.below:
                    found.setdefault(each, set()).add(loss)
        return {function: frozenset(losses) for function, losses in found.items()}

    def place(self, order: Iterable[str], cause: Cause) -> str | None:
        """The first function of ``order`` that a cause takes, where it lies; ``None`` where it takes none of them."""
        taken = self.taken(cause)
        return next((function for function in order if function in taken), None)

    def lost_by(self, cause: Cause) -> frozenset[str]:
        """What does not work at all while the cause is there."""
        return frozenset(function for function, losses in self.taken(cause).items() if "lost" in losses)

    def lost_in(self, symptom: Symptom) -> frozenset[str]:
        """What does not work at all, going by a complaint, or is not to be tried."""
        lost = [*symptom.untried, *(function for function, loss in symptom.lacks.items() if loss == "lost")]
        return frozenset(each for function in lost for each in self.below.get(function, ())) - set(symptom.keeps)

    def brings_about(self, cause: Cause, symptom: Symptom) -> bool:
        """Whether a cause takes away something that the complaint lacks, and nothing that it keeps."""
        taken = self.taken(cause)
        if any("lost" in taken.get(function, ()) for function in symptom.keeps):
            return False
        return any(taken.get(function, frozenset()) & _BROUGHT_ABOUT[loss] for function, loss in symptom.lacks.items())

    def implied(self, causes: Iterable[Cause], symptom: Symptom) -> tuple[str, ...]:
        """The causes that a complaint does not name and that bring it about by what they take away."""
        named = {*symptom.causes, *symptom.never}
        return tuple(cause.id for cause in causes if cause.id not in named and self.brings_about(cause, symptom))


def chain_of(trees: Trees, facts: Facts | None = None) -> Chain:
    """The chain of what has ``facts``; without them, of everything that is written."""
    functions = trees.functions.values()
    return _chain(Held(trees), tuple(each.id for each in functions if facts is None or applies(each.applies, facts)))


@lru_cache(maxsize=64)
def _chain(held: Held, there: tuple[str, ...]) -> Chain:
    needing: dict[str, list[str]] = {name: [] for name in there}
    for name in needing:
        for needed in held.trees.functions[name].needs:
            if needed in needing:
                needing[needed].append(name)
    return Chain({name: frozenset(all_from([name], needing.__getitem__)) for name in needing})


def chain_order(trees: Trees, chain: Chain, symptoms: Sequence[str]) -> tuple[str, ...]:
    """The functions that the complaints lack and all that those need, each after what it needs."""
    lacked = [function for symptom in symptoms for function in trees.symptoms[symptom].lacks if function in chain.below]
    order: dict[str, None] = {}

    def add(name: str) -> None:
        if name not in order and any(each in chain.below[name] for each in lacked):
            for needed in trees.functions[name].needs:
                if needed in chain.below:
                    add(needed)
            order[name] = None

    for name in chain.below:
        add(name)
    return tuple(order)
