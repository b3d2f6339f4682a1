"""``Sitting``: one person's turn at a call, on any face."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.calls.call import Call
from diagnose.knowledge.model import Fact
from diagnose.quantities.show import Shown
from diagnose.sitting.cards import Card, card_of, check_card
from diagnose.sitting.course import Alternative, Planned, RepairWay, bearing, first_facts, others_than, plan, repairs
from diagnose.sitting.say import AnyAct, chosen, do
from diagnose.sitting.view import CallView, view_of


@dataclass(frozen=True)
class Put:
    """A step that was worked out, and the card that shows it."""

    planned: Planned
    card: Card


class Sitting:
    """Hands out the steps of a call and takes what is said. It keeps nothing that is not in the call's events.

    ``put`` is the next step as a card; ``choose`` and ``do`` change the call, and give back a sentence that says what
    was taken down. Both raise ``AnswerError`` or ``CallError`` (``WordNeeded`` where only a reason is missing) before
    anything has changed. ``units`` are those that readings are shown in.
    """

    def __init__(self, call: Call, units: Shown = "us") -> None:
        self.call = call
        self.units = units

    # --- what comes next -----------------------------------------------------------------------------------

    def put(self, quick: bool = False) -> Put:
        """The step to hand out now; ``quick`` takes a stand-in that is worked out at once."""
        planned = plan(self.call, quick)
        return Put(planned, card_of(self.call, planned))

    def view(self) -> CallView:
        return view_of(self.call, self.units)

    def twin(self) -> Sitting:
        """A copy that nothing else touches and that records nothing, to think in a thread."""
        return Sitting(self.call.twin(), self.units)

    # --- what may be chosen instead ------------------------------------------------------------------------

    def instead(self, planned: Planned) -> tuple[Alternative, ...]:
        """Other first steps, the cheapest first, with what each costs more."""
        return others_than(planned)

    def repairs(self) -> tuple[RepairWay, ...]:
        """Every remedy of this door, below the likeliest cause it removes."""
        return repairs(self.call)

    def proofs(self) -> list[tuple[str, str, str]]:
        """Each proof that must pass: its id, its title, and what came of it so far."""
        ledger = self.call.ledger
        told = dict.fromkeys(ledger.passed, "passed") | dict.fromkeys(ledger.failed, "did not pass")
        return [(proof.id, proof.title, told.get(proof.id, "not done")) for proof in self.call.needed_proofs()]

    def bearing(self) -> list[str]:
        """The checks that bear on the case and can be answered out of turn, the most telling first."""
        return bearing(self.call)

    def first_facts(self) -> list[Fact]:
        """What is asked of the door before the first question."""
        return first_facts(self.call)

    def card_of_check(self, check: str) -> Card:
        """A check to be answered out of turn."""
        return check_card(self.call, self.call.trees.checks[check])

    # --- what is said --------------------------------------------------------------------------------------

    def choose(self, card: Card, name: str, text: str = "") -> str:
        """Say one of a card's choices, with the words it asks for."""
        return self.do(chosen(card, name, text))

    def do(self, act: AnyAct) -> str:
        return do(self.call, act, self.units)
