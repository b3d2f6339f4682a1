"""What the review says no walk reaches, against every walk there is, taken by the program's own steps."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.checker import Book
from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.model import COULD_NOT_TELL, Cause, Check, Costs, EnergyState, Person, Symptom, Trees
from diagnose.reasoning.situation import Situation, make_situation
from diagnose.reasoning.walk import Known, reachable
from diagnose.review.reach import unreachable

NAMES = ("a", "b", "c", "d")
ANSWERS = ("yes", "no")
_others = st.lists(st.sampled_from(NAMES), max_size=2, unique=True).map(tuple)
_led = st.dictionaries(st.sampled_from(ANSWERS), _others, max_size=2)


@st.composite
def _checks(draw: st.DrawFn) -> dict[str, Check]:
    checks = {}
    for index, name in enumerate(NAMES):
        # What comes before stands earlier in the row, so that nothing waits for itself.
        after = (
            draw(st.dictionaries(st.sampled_from(NAMES[:index]), st.sampled_from([(), ("yes",), ("no",)]), max_size=2))
            if index
            else {}
        )
        checks[name] = Check(
            id=name,
            ask=name,
            answers=ANSWERS,
            healthy=Shares({"yes": 0.5, "no": 0.5}),
            minutes=1,
            who="anyone",
            energy="any",
            opens=draw(_led),
            closes=draw(_led),
            after=after,
        )
    return checks


@given(_checks(), st.sets(st.sampled_from(NAMES), min_size=1), st.sets(st.sampled_from(NAMES)))
@settings(deadline=None, max_examples=300)
def test_against_every_walk(checks: dict[str, Check], telling: set[str], first: set[str]) -> None:
    signs = {name: Shares({"yes": 0.9, "no": 0.1}) for name in sorted(telling)}
    cause = Cause(id="it", title="it", base=0.1, signs=signs, remedies={})
    symptom = Symptom(id="odd", title="odd", caller="odd", ask_first=tuple(sorted(first)), causes={"it": 0.5})
    empty: dict[str, object] = {field.name: {} for field in msgspec.structs.fields(Trees)}
    filled = {
        "digest": "x",
        "costs": Costs(),
        "checks": checks,
        "causes": {"it": cause},
        "symptoms": {"odd": symptom},
        "people": {"anyone": Person(id="anyone", title="anyone")},
        "energy": {"any": EnergyState(id="any", title="any", powered="no")},
    }
    trees = Trees(**{**empty, **filled})  # type: ignore[arg-type]
    reached = _reached(make_situation(trees, {}, ["odd"]))
    assert set(unreachable(Book(trees))) == telling - reached


def _reached(situation: Situation) -> set[str]:
    """Every check that is offered in any walk: each step taken with each answer, until nothing new is met."""
    reached: set[str] = set()
    seen: set[frozenset[tuple[str, Known]]] = set()
    waiting: list[Mapping[str, Known]] = [{}]
    while waiting:
        known = waiting.pop()
        for way in reachable(situation, known, {"anyone"}):
            reached.add(way.goal)
            for answer in (*ANSWERS, COULD_NOT_TELL):
                after = {**known, way.steps[0]: answer}
                if frozenset(after.items()) not in seen:
                    seen.add(frozenset(after.items()))
                    waiting.append(after)
    return reached
