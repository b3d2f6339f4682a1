"""The newsvendor's arithmetic, and loads that are the best there are."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.model import Part, Trees, Van
from diagnose.screening.parts import Use, load_van

SECOND_TRIP, MONEY = 120.0, 1.6


def test_a_part_is_worth_taking_from_the_ratio_of_its_costs(dock: Trees, van: Van) -> None:
    # Two fuses: 2 min of picking, and for one 0.2 min/kg · 0.1 kg + 0.005 · 8 $ / 1.6 $/min = 0.045 min.
    (load,) = load_van([Use("new-fuse", 0.02, {"fuse": 2})], dock.parts, van, SECOND_TRIP, MONEY).loads
    assert (load.part, load.count) == ("fuse", 2)
    assert load.worth_from == pytest.approx(2.045 / (120 + 2.045))
    assert load.chance == pytest.approx(0.02)
    below = load_van([Use("new-fuse", 0.015, {"fuse": 2})], dock.parts, van, SECOND_TRIP, MONEY)
    assert below.loads == () and below.covered == pytest.approx(0.985)


def test_half_of_what_a_repair_takes_is_left_at_home(dock: Trees, van: Van) -> None:
    load = load_van([Use("big", 0.5, {"fuse": 1, "track": 1})], dock.parts, van, SECOND_TRIP, MONEY)
    assert load.loads == ()  # a track has 60 l, the van 30: and the fuse alone ends nothing
    assert {each.part for each in load.no_room} == {"fuse", "track"}
    assert load.covered == pytest.approx(0.5)


def test_a_part_that_two_repairs_share_is_counted_once(dock: Trees, van: Van) -> None:
    uses = [Use("new-fuse", 0.3, {"fuse": 2}), Use("new-board", 0.2, {"board": 1, "fuse": 1})]
    load = load_van(uses, dock.parts, van, SECOND_TRIP, MONEY)
    assert {each.part: each.count for each in load.loads} == {"fuse": 2, "board": 1}
    assert load.weight == pytest.approx(1.2) and load.volume == pytest.approx(4.2)
    assert load.covered == pytest.approx(1.0)


def test_the_limits_of_the_van_choose_the_likelier(dock: Trees) -> None:
    tight = Van(id="tight", title="tight", weight=21.0, volume=100.0)
    uses = [Use("spring", 0.3, {"spring": 1}), Use("track", 0.4, {"track": 1}), Use("fuse", 0.1, {"fuse": 1})]
    load = load_van(uses, dock.parts, tight, SECOND_TRIP, MONEY)
    assert {each.part for each in load.loads} == {"track", "fuse"}
    assert [each.part for each in load.no_room] == ["spring"]
    assert load.covered == pytest.approx(0.2 + 0.5)


_PARTS = {
    name: Part(id=name, title=name, price=price, weight=weight, volume=volume)
    for name, price, weight, volume in (("a", 10, 1, 1), ("b", 200, 8, 3), ("c", 40, 3, 9), ("d", 500, 12, 12))
}
_needs = st.dictionaries(st.sampled_from(sorted(_PARTS)), st.integers(1, 2), min_size=1, max_size=3)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0.001, 0.3), _needs), min_size=1, max_size=4), st.floats(1, 40), st.floats(1, 40))
def test_no_load_within_the_van_is_better(drawn: list[tuple[float, dict[str, int]]], kg: float, litres: float) -> None:
    total = sum(chance for chance, _ in drawn)
    scale = 1 / total if total > 1 else 1.0
    uses = [Use(str(i), chance * scale, parts) for i, (chance, parts) in enumerate(drawn)]
    van = Van(id="v", title="v", weight=kg, volume=litres)
    load = load_van(uses, _PARTS, van, SECOND_TRIP, MONEY)
    assert load.weight <= kg + 1e-6 and load.volume <= litres + 1e-6
    found = {each.part: each.count for each in load.loads}
    assert _gain(uses, found, van) == pytest.approx(_best(uses, van, kg, litres), abs=1e-4)


def _best(uses: list[Use], van: Van, kg: float, litres: float) -> float:
    """Every load there is, tried one by one."""
    best = 0.0
    for counts in itertools.product(range(3), repeat=len(_PARTS)):
        load = {part: count for part, count in zip(sorted(_PARTS), counts, strict=True) if count}
        weight = sum(_PARTS[part].weight * n for part, n in load.items())
        volume = sum(_PARTS[part].volume * n for part, n in load.items())
        if weight <= kg + 1e-9 and volume <= litres + 1e-9:
            best = max(best, _gain(uses, load, van))
    return best


def _gain(uses: list[Use], load: dict[str, int], van: Van) -> float:
    """Second trips saved, less the carrying of what is not needed."""
    saved = sum(SECOND_TRIP * u.chance for u in uses if all(load.get(p, 0) >= n for p, n in u.parts.items()))
    carried = 0.0
    for part, count in load.items():
        idle = 1 - sum(use.chance for use in uses if part in use.parts)
        each = van.per_kilogram * _PARTS[part].weight + van.wear * _PARTS[part].price / MONEY
        carried += idle * (van.picking + count * each)
    return saved - carried
