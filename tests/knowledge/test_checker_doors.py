"""Kinds of door: few as they are, they stand for every combination of facts there is."""

from __future__ import annotations

import itertools

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.doors import all_doors, door_in_words, fewest, meet
from diagnose.knowledge.model import Conditions, Fact, Facts, Trees, applies

FACTS = {
    "drive": Fact(id="drive", title="Drive", ask="Which?", answers=("trolley", "jackshaft", "hoist")),
    "rated": Fact(id="rated", title="Rated", ask="Is it?", answers=("yes", "no")),
    "devices": Fact(id="devices", title="Devices", ask="Which?", answers=("eye", "edge", "timer"), many="yes"),
}


def _trees() -> Trees:
    empty: dict[str, object] = {field.name: {} for field in msgspec.structs.fields(Trees)}
    from diagnose.knowledge.model import Costs

    return Trees(**{**empty, "digest": "x", "costs": Costs(), "facts": FACTS})  # type: ignore[arg-type]


TREES = _trees()


def _every_door() -> list[Facts]:
    subsets = [c for size in range(4) for c in itertools.combinations(FACTS["devices"].answers, size)]
    return [
        {"drive": drive, "rated": rated, "devices": devices}
        for drive in FACTS["drive"].answers
        for rated in FACTS["rated"].answers
        for devices in subsets
    ]


EVERY = _every_door()


def _some(fact: str) -> st.SearchStrategy[tuple[str, ...]]:
    answers = FACTS[fact].answers
    return st.lists(st.sampled_from(answers), min_size=1, unique=True).map(tuple)


conditions = st.fixed_dictionaries({}, optional={fact: _some(fact) for fact in FACTS})


@given(st.lists(conditions, min_size=1, max_size=4))
@settings(deadline=None, max_examples=150)
def test_kinds_of_door_are_all_that_conditions_tell_apart(written: list[Conditions]) -> None:
    doors = all_doors(TREES, written)
    kinds = {tuple(bool(doors.fit(each)[door]) for each in written) for door in range(doors.count)}
    assert kinds == {tuple(applies(each, door) for each in written) for door in EVERY}
    for door in range(doors.count):
        facts = doors.facts(door)
        assert [bool(doors.fit(each)[door]) for each in written] == [applies(each, facts) for each in written]


@given(st.lists(conditions, min_size=1, max_size=3))
@settings(deadline=None, max_examples=150)
def test_meet_is_whether_some_door_has_them_all(written: list[Conditions]) -> None:
    assert meet(TREES, *written) == any(all(applies(each, door) for each in written) for door in EVERY)


@given(st.lists(conditions, min_size=1, max_size=3))
@settings(deadline=None, max_examples=150)
def test_fewest_are_the_smallest_sets_that_will_do(written: list[Conditions]) -> None:
    only = [{"devices": each["devices"]} for each in written if "devices" in each]
    will_do = [set(door["devices"]) for door in EVERY if all(applies(each, door) for each in only)]
    least = {frozenset(one) for one in will_do if not any(other < one for other in will_do)}
    assert {frozenset(one) for one in fewest(TREES, "devices", written)} == least


def test_a_set_that_is_fixed_is_the_only_one() -> None:
    doors = all_doors(TREES, [{"drive": ("hoist",), "devices": ("eye",)}], {"devices": ("edge",)})
    assert [doors.facts(i) for i in range(doors.count)] == [
        {"drive": "trolley", "devices": ("edge",)},
        {"drive": "hoist", "devices": ("edge",)},
    ]


def test_in_words() -> None:
    assert door_in_words(TREES, {"drive": "hoist", "devices": ()}) == "drive: hoist; devices: none"
