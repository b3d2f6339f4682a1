"""What a layman on the phone may be asked: from the floor, hands off, with nothing to hold."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Fault, rule_of
from diagnose.knowledge.model import Check


@rule_of(["checks"], "caller-not-allowed")
def caller_not_allowed(book: Book, check: Check) -> Iterator[Fault]:
    """A check that is put to a caller needs a trained person, a ladder, an open cover, a tool or a locked-off door.

    A caller may be asked only what anyone can see or hear from the floor, with the covers on.

    Passes:
        lamp: {caller: Is the little light on?, who: anyone, energy: any, …}
    Fails:
        lamp: {caller: Is the little light on?, who: technician, energy: "powered, cover open", …}
    """
    trees = book.trees
    if check.caller is None:
        return
    state = trees.energy[check.energy]
    faults = {
        "who": f"is for a {check.who}" if trees.people[check.who].includes else "",
        "access": f"is done {trees.access[check.access].title}" if trees.access[check.access].minutes > 0 else "",
        "energy": f"needs the door {state.title}" if check.energy != "any" and state.cover != "on" else "",
        "tool": f"is measured with a {check.tool[0]}" if check.kind == "reading" and check.tool else "",
    }
    for field, fault in faults.items():
        if fault:
            wrong = f"'{check.id}' is put to a caller, and {fault}."
            mend = "Take 'caller:' out, or make it something to see from the floor."
            yield Fault(wrong, mend, (field,))
    for answer in set(check.caller.answers) - set(check.answers):
        wrong = f"'{answer}' is put to the caller and is no answer of '{check.id}'."
        yield Fault(wrong, "Write one of its answers.", ("caller", "answers", answer))
