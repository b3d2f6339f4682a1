"""The proof that nothing in the trees, and no way through a call, puts anybody in danger: over all states, not a
sample."""

from __future__ import annotations

from diagnose.knowledge.checker import Book, Rule
from diagnose.safety.closing import returned_around_proofs
from diagnose.safety.hazards import caution_missing, not_for_this_person, safety_not_stated
from diagnose.safety.invariant import Invariant, Outcome
from diagnose.safety.proving import hazard_not_mended, hazard_unproved, proofs_incomplete, proofs_out_of_order
from diagnose.safety.walking import energy_order, offered_to_whom
from diagnose.safety.wording import dangerous_wording, reviewed_for_nothing

INVARIANTS: tuple[Invariant, ...] = (
    caution_missing,
    not_for_this_person,
    dangerous_wording,
    proofs_incomplete,
    energy_order,
    offered_to_whom,
    returned_around_proofs,
)
RULES: tuple[Rule, ...] = (
    *INVARIANTS,
    hazard_unproved,
    hazard_not_mended,
    proofs_out_of_order,
    reviewed_for_nothing,
    safety_not_stated,
)


def prove(book: Book) -> tuple[Outcome, ...]:
    """Every invariant, each over all the states there are."""
    return tuple(invariant.prove(book) for invariant in INVARIANTS)
