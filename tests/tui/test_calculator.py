"""The calculator: every formula can be worked, live, with units, and its result noted."""

from __future__ import annotations

import pytest
from textual.widgets import Input

from diagnose.formulas import FormulaError, all_formulas, find
from diagnose.sitting.calculating import read_input
from diagnose.tui.screens.calculator import FormulaPage, formula_rows, worked_out

from .conftest import Make, begin, flat, painted, press, settled, type_text


def test_every_formula_is_listed_under_its_subject() -> None:
    rows = formula_rows()
    assert [row.id for row in rows if row.id] == [formula.name for formula in all_formulas()]
    assert len([row for row in rows if not row.id]) == len({formula.subject for formula in all_formulas()})


def test_a_drop_by_the_handbook() -> None:
    """120 V, 16 A, 150 ft of 12 AWG solid: 9.264 V (NEC chapter 9 table 8, 1.93 Ω/kft); computed resistance, ±0.2 %."""
    typed = {"volts": "120", "amps": "16", "run": "150", "gauge": "12", "strand": "sol"}
    working, shown = worked_out(find("voltage-drop"), typed)
    assert "9.2" in shown.plain
    assert working in shown.plain
    result = find("voltage-drop").evaluate({"volts": 120, "amps": 16, "run": 150, "gauge": 12, "strand": "solid"})
    assert float(result.values["drop"]) == pytest.approx(9.264, rel=2e-3)


def test_other_units_are_converted_and_wrong_ones_refused() -> None:
    run = find("voltage-drop").input("run")
    assert read_input(run, "150") == 150.0
    assert read_input(run, "45.72 m") == pytest.approx(150.0)
    with pytest.raises(FormulaError, match="asks for feet"):
        read_input(run, "12 V")
    with pytest.raises(FormulaError):
        read_input(run, "[psi]")


def test_what_is_missing_is_named() -> None:
    working, shown = worked_out(find("voltage-drop"), {"volts": "120"})
    assert working == ""
    assert "Still needed:" in shown.plain


@pytest.mark.parametrize("formula", all_formulas(), ids=lambda formula: formula.name)
def test_nothing_typed_into_any_formula_breaks_it(formula) -> None:
    for text in ("", "0", "-1", "1e9", "x", "[/x]", "nan", "1 2 3 4 5"):
        typed = {item.name: text for item in formula.inputs if text}
        worked_out(formula, typed)


async def test_the_result_changes_as_one_types_and_is_noted_into_the_call(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        await press(pilot, "f7")
        await type_text(pilot, "drop along")
        await press(pilot, "enter")
        page = app.screen
        assert isinstance(page, FormulaPage)
        for text in ("120", "16", "150", "12"):
            assert "left at the far end" not in painted(pilot)
            await type_text(pilot, text)
            await press(pilot, "enter")
        assert "Working" in painted(pilot)
        await press(pilot, "f9")
        assert "Noted in the call." in painted(pilot)
        assert screen.call.state.notes[-1][1].startswith("Voltage drop along a run of wire: 12 AWG")
        await press(pilot, "escape", "escape")
        assert app.screen is screen


async def test_outside_a_call_there_is_nothing_to_note_it_in(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        await press(pilot, "f7", "enter", "f9")
        assert isinstance(app.screen, FormulaPage)
        assert "There is no call to note it in." in flat(painted(pilot))


async def test_a_field_below_the_edge_is_scrolled_into_sight(make_app: Make) -> None:
    app = make_app()
    most = max(all_formulas(), key=lambda formula: len(formula.inputs))
    async with app.run_test(size=(60, 20)) as pilot:
        await settled(pilot)
        app.push_screen(FormulaPage(most, None))
        await settled(pilot)
        for _ in range(len(most.inputs) - 1):
            await press(pilot, "enter")
        focused = app.focused
        assert isinstance(focused, Input)
        assert app.screen.region.contains_region(focused.region)
