"""Words of trees and of people are shown as they are, brackets and all, on every screen."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from diagnose import load_trees
from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.knowledge.words import percent
from diagnose.sitting.say import GoTo
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.saver import InHand, Saver
from diagnose.tui.text import assemble, fit, one_line, plain, printable

from .conftest import HERE, Make, flat, painted, press, settled, type_text

# Bits that a reader of markup, of a template or of a terminal would stumble over.
_BITS = [
    "[psi]",
    "[/x]",
    "[/]",
    "[bold]",
    "[@click=app.quit]",
    "[",
    "]",
    "\\",
    "\\[",
    "$x",
    "{y}",
    "%s",
    "[red",
    "a",
    "é",
    "水",
    ":ok:",
]
nasty = st.lists(st.sampled_from(_BITS), min_size=1, max_size=6).map("".join)


@pytest.mark.parametrize("text", ["valve [psi]", "[/x]", "[bold]b[/bold]", "\\[a]", "[$warning]x", ""])
def test_text_is_never_markup(text: str) -> None:
    assert plain(text).plain == text
    assert plain(text, "bold").plain == text
    assert assemble("a ", (text, "bold"), plain(text)).plain == f"a {text}{text}"


@given(st.text())
def test_nothing_unprintable_reaches_the_screen(text: str) -> None:
    assert all(letter.isprintable() or letter == "\n" for letter in printable(text))
    assert len(printable(text)) == len(text)
    assert one_line(text).isprintable()
    assert fit(plain(one_line(text)), 12).cell_length <= 12


@pytest.mark.parametrize(
    ("share", "shown"),
    [(0.0, "0 %"), (0.0001, "<1 %"), (0.004, "<1 %"), (0.5, "50 %"), (0.999, ">99 %"), (1.0, "100 %")],
)
def test_a_percentage_is_never_rounded_to_certainty(share: float, shown: str) -> None:
    assert percent(share) == shown


def renamed(trees: Trees, nasty: str) -> Trees:
    """The trees with every word that is shown turned into a nasty one."""

    def reword(entry: msgspec.Struct) -> msgspec.Struct:
        shown = ("title", "ask", "measure", "compute", "how", "text", "passes_when", "explain", "caller")
        changed = {
            name: f"{nasty} {getattr(entry, name)}"
            for name in shown
            if name in entry.__struct_fields__ and isinstance(getattr(entry, name), str) and getattr(entry, name)
        }
        return msgspec.structs.replace(entry, **changed)

    kinds = ("families", "facts", "symptoms", "causes", "checks", "remedies", "proofs", "cautions", "parts")
    kinds += ("energy", "access", "people")
    changed = {kind: {key: reword(entry) for key, entry in getattr(trees, kind).items()} for kind in kinds}
    return msgspec.structs.replace(trees, digest=f"{nasty}{trees.digest}", **changed)


SMALL = load_trees(HERE / "trees", cache=False)


@settings(max_examples=2, deadline=None, suppress_health_check=list(HealthCheck))
@given(nasty)
@example("[/x]")
@example("valve [psi] [@click=app.quit]")
def test_brackets_are_shown_as_they_are_on_every_screen(tmp_path_factory: pytest.TempPathFactory, nasty: str) -> None:
    asyncio.run(_walk_every_screen(tmp_path_factory.mktemp("store") / "calls.sqlite3", nasty))


async def _walk_every_screen(file: Path, nasty: str) -> None:
    trees = renamed(SMALL, nasty)
    kept = Store.open(file)
    app = DiagnoseApp(trees, lambda: kept, clock=lambda: datetime(2026, 3, 2, tzinfo=UTC), settle=0.0)
    word = flat(one_line(nasty))
    async with app.run_test(size=(160, 50)) as pilot:
        await settled(pilot)
        assert word in flat(painted(pilot))
        saver = Saver(kept)
        call = Call(trees, {"devices": ["photo-eye"]}, ["lamp-wrong"], site=nasty, door=nasty, by=nasty, recorder=saver)
        app.open(InHand(call, saver))
        await settled(pilot)
        screen = app.screen
        assert word in flat(painted(pilot, "#title"))
        await press(pilot, "3")
        for key in ("f1", "f2", "ctrl+e", "f4", "ctrl+k", "f6", "ctrl+w", "f10", "a", "o", "g", "b", "h"):
            await press(pilot, key)
            if key != "f1":
                assert word in flat(painted(pilot)), key
            await press(pilot, "escape")
            assert app.screen is screen
        await press(pilot, "n")
        app.screen.query_one("Input").value = nasty
        await press(pilot, "enter")
        assert call.state.notes[-1][1] == nasty
        for kind, identity in (("check", "eye-volts"), ("remedy", "remake-splice"), ("remedy", "clean-lens")):
            screen.sitting.do(GoTo(kind=kind, step=identity))
            screen.show_call()
            await settled(pilot)
            assert word in flat(painted(pilot, "#step")), identity
        screen.sitting.do(GoTo(kind="check", step="eye-volts"))
        screen.show_call()
        await settled(pilot)
        field = screen.query_one("#typed")
        field.value = nasty
        await press(pilot, "enter")
        assert field.value == nasty, "what is no answer stays to be mended"
        await press(pilot, "f8")
        app.screen.query_one("Input").value = nasty
        await press(pilot, "enter")
        assert call.state.reason == nasty
        assert word in flat(painted(pilot, "#step"))
        await press(pilot, "escape", "f4")
        assert word in flat(painted(pilot))
        await type_text(pilot, "[/x")
    kept.close()


async def test_a_row_of_a_list_keeps_its_columns_where_it_wraps(make_app: Make, store: Store) -> None:
    app = make_app()
    async with app.run_test(size=(60, 18)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+u")
        lines = painted(pilot).splitlines()
        first = next(place for place, line in enumerate(lines) if line.startswith(" people"))
        assert lines[first + 1].strip() and lines[first + 1][:35].strip() == ""
