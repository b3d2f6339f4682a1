"""The card: in the order hands need it, nothing that decides out of sight, and cautions once in a call."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from diagnose import Call
from diagnose.knowledge.model import Trees
from diagnose.sitting.cards import Card, card_of
from diagnose.sitting.course import Planned
from diagnose.sitting.places import has_place
from diagnose.sitting.say import GoTo
from diagnose.tui.screens.interview import Interview
from diagnose.tui.widgets.card_layout import MOST_COLUMNS, Layout, lay_out
from diagnose.tui.widgets.step_card import READ_FIRST, WAITS, StepCard

from .conftest import Make, begin, flat, painted, press, settled, type_text

SIZES = ((60, 18), (80, 24), (120, 40), (200, 60))
# Rows of the screen that are not the card's: the top line, the standing, the keys. From 110 columns the suspects stand
# beside it, in this many columns.
_AROUND, _WIDE, _BESIDE = 3, 110, {120: 50, 200: 80}


def room(size: tuple[int, int]) -> tuple[int, int]:
    """Columns and rows that a card has where it needs them."""
    width, height = size
    return width - _BESIDE.get(width, 0), height - _AROUND


def laid(card: Card, size: tuple[int, int], has_place: bool = True) -> Layout:
    return lay_out(card, *room(size), size[1], has_place=has_place)


def all_cards(trees: Trees) -> Iterator[Card]:
    """A card of every check, repair, proof, job and change of state, with all its cautions, as it is first met."""
    calls = {"": Call(trees, symptoms=[next(iter(trees.symptoms))])}
    calls |= {walk: Call(trees, walk=walk) for walk in trees.walks}
    step = calls[""].next_step(quick=True)
    walk_of = {job: walk.id for walk in trees.walks.values() for job in walk.jobs}
    entries = [("check", check.id) for check in trees.checks.values() if check.kind != "computed"]
    for kind, named in (
        ("remedy", trees.remedies),
        ("proof", trees.proofs),
        ("job", trees.jobs),
        ("energy", trees.energy),
    ):
        entries += [(kind, each) for each in named]
    for kind, each in entries:
        put = replace(step, kind=kind, id=each, goal=each, goal_kind=kind)
        if kind == "energy":
            put = replace(put, goal="", goal_kind="stop")
        yield card_of(calls[walk_of.get(each, "") if kind == "job" else ""], Planned(put))


@pytest.mark.parametrize("size", SIZES)
def test_every_card_fits_or_waits(shipped_trees: Trees, size: tuple[int, int]) -> None:
    """Cautions in full, the place named. From 80x24 on all is in view at once but how to lock a door out (at 80x24)."""
    cards = list(all_cards(shipped_trees))
    assert len(cards) > 1500
    assert sum(bool(card.cautions) for card in cards) > 1000
    layouts = [(card.kind, card.id, laid(card, size)) for card in cards]
    assert [
        (kind, each) for kind, each, layout in layouts if not (layout.fits or layout.said + 2 <= layout.height)
    ] == []
    if size != SIZES[0]:
        assert {kind for kind, _, layout in layouts if not layout.fits} <= ({"energy"} if size[0] == 80 else set())


@pytest.mark.parametrize("size", SIZES)
async def test_the_screen_lays_cards_out_as_is_worked_out(
    make_app: Make, shipped_trees: Trees, size: tuple[int, int]
) -> None:
    """The highest, the lowest and some between: what waits, the rows there are, and every row of what can be said."""
    cards = sorted(all_cards(shipped_trees), key=lambda card: laid(card, SIZES[0]).rows)
    async with make_app().run_test(size=size) as pilot:
        step, call = (await begin(pilot)).query_one(StepCard), Call(shipped_trees)
        for card in (cards[0], cards[len(cards) // 2], *cards[-1::-40][:4]):
            step.show(card, call)
            await settled(pilot)
            layout = laid(card, size, has_place(call, card.kind, card.id))
            assert step.is_waiting is not layout.fits, card
            if step.is_waiting:
                assert (step.size.width, step.size.height) == room(size)
                assert WAITS in painted(pilot, "#step")
                while step.is_waiting:
                    await press(pilot, "space")
            shown = flat(painted(pilot, "#step"))
            for choice in card.choices:
                assert flat(f"{choice.key} {choice.label}") in shown, choice
            if layout.fits:
                assert flat(card.title) in shown
                for caution in card.cautions:
                    assert flat(caution.text) in shown
                assert flat(card.how) in shown
            assert "▼" not in shown


async def _long_card(screen: Interview) -> None:
    screen.sitting.do(GoTo(kind="check", step="aim"))
    screen.show_call()


async def test_answers_wait_until_the_card_was_read_to_its_end(make_app: Make) -> None:
    async with make_app().run_test(size=(60, 18)) as pilot:
        screen = await begin(pilot)
        aim = screen.call.trees.checks["aim"]
        step = screen.query_one(StepCard)
        await _long_card(screen)
        await settled(pilot)
        card = step.card
        assert card is not None
        step.show(replace(card, how=f"{aim.how} {aim.how} {aim.how}"), screen.call)
        await settled(pilot)
        assert WAITS in painted(pilot, "#step") and "in line 2" not in flat(painted(pilot, "#step"))
        await press(pilot, "1")
        assert READ_FIRST in flat(painted(pilot, "#step"))
        assert "aim" not in screen.call.state.answers
        await press(pilot, "pagedown", "pagedown", "pagedown")
        shown = flat(painted(pilot, "#step"))
        assert "Are the eyes in line?" in shown and "Sight along them." in shown and "1 in line" in shown
        await press(pilot, "pageup")
        assert "▼ more below: PgDn" in painted(pilot, "#step")
        await press(pilot, "1")
        assert screen.call.state.answers["aim"].value == "in line"


async def test_what_was_typed_outlives_every_size(make_app: Make) -> None:
    async with make_app().run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)
        screen.sitting.do(GoTo(kind="check", step="eye-volts"))
        screen.show_call()
        await settled(pilot)
        await type_text(pilot, "24.1")
        for size in ((60, 18), (200, 60), (120, 40), (80, 24)):
            await pilot.resize_terminal(*size)
            await settled(pilot)
            assert "24.1" in painted(pilot, "#step")
        await press(pilot, "enter")
        assert screen.call.state.answers["eye-volts"].raw == ("24.1",)


async def test_cautions_stand_once_in_a_call(make_app: Make) -> None:
    async with make_app().run_test() as pilot:
        screen = await begin(pilot)
        await _long_card(screen)
        await settled(pilot)
        warning = screen.call.trees.cautions["door-may-start"].text
        assert flat(warning) in flat(painted(pilot, "#step"))
        await press(pilot, "1")
        await _long_card(screen)
        await settled(pilot)
        shown = flat(painted(pilot, "#step"))
        assert "▲▲ WARNING" in shown and "as before; whole: PgUp" in shown and flat(warning) not in shown
        await press(pilot, "pageup")
        assert flat(warning) in flat(painted(pilot, "#step"))


async def test_lines_are_no_longer_than_can_be_read(make_app: Make) -> None:
    async with make_app().run_test(size=(200, 60)) as pilot:
        screen = await begin(pilot)
        await _long_card(screen)
        await settled(pilot)
        lines = [line.rstrip() for line in painted(pilot, "#ask").splitlines()]
        assert MOST_COLUMNS - 20 < max(map(len, lines)) <= MOST_COLUMNS
