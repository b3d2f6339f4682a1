"""Where is this: from a step, from the start, and in a small window; names are shown as they are written."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from diagnose.knowledge.model import Component, Sketch, Trees
from diagnose.tui.screens.glossary import Glossary, WhereIs

from .conftest import Make, begin, flat, painted, press, settled

LAMP = Component(
    id="lamp", title="Lamp [/b] of [red]", also=("glim",), what="Shines.", where="Up.", looks_like="Round."
)
SKETCH = Sketch(id="dock", title="Dock [b]", drawn="from inside\n ──A──\n", marks={"A": "lamp"})


@pytest.fixture
def with_lamp(trees: Trees) -> Trees:
    checks = {name: replace(check, at=("lamp",)) for name, check in trees.checks.items()}
    return replace(trees, digest="lamp", components={"lamp": LAMP}, sketches={"dock": SKETCH}, checks=checks)


@pytest.mark.parametrize("size", [(60, 18), (120, 40)])
async def test_one_key_shows_where_a_step_is_and_from_there_the_glossary(
    make_app: Make, with_lamp: Trees, size: tuple[int, int]
) -> None:
    async with make_app(with_trees=with_lamp).run_test(size=size) as pilot:
        await begin(pilot)
        assert "where it is: Ctrl+\\" in flat(painted(pilot)), "the card names the key"
        await press(pilot, "v")
        assert isinstance(pilot.app.screen, WhereIs)
        shown = painted(pilot)
        assert "Lamp [/b] of [red]" in shown and "Dock [b]" in shown and "─▶A◀─" in shown
        await press(pilot, "v")
        assert isinstance(pilot.app.screen, Glossary)
        await press(pilot, *"glim")
        assert "Lamp [/b] of [red]" in painted(pilot)
        await press(pilot, "escape", "escape")
        await settled(pilot)
        assert not isinstance(pilot.app.screen, (WhereIs, Glossary))


async def test_the_glossary_opens_from_the_start_while_something_is_typed(make_app: Make, with_lamp: Trees) -> None:
    async with make_app(with_trees=with_lamp).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await press(pilot, "x", "ctrl+backslash")
        assert isinstance(pilot.app.screen, Glossary)
        assert "Shines." in painted(pilot)
        await press(pilot, *"qqq")
        assert "Nothing fits" in painted(pilot) and "Shines." not in painted(pilot)
