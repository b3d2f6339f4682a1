"""The registry: names, gates, messages, and nothing heavy at import."""

from __future__ import annotations

import math
import re
import subprocess
import sys
import typing
from dataclasses import FrozenInstanceError

import pytest

from diagnose.formulas import Formula, FormulaError, Input, Output, all_formulas, find
from diagnose.formulas import registry as module
from diagnose.formulas.registry import formula, shown
from diagnose.formulas.wire import voltage_drop

X = typing.Annotated[float, Input("", "X")]
Y = typing.Annotated[float, Output("", "", "y")]
DROP = {"volts": 120, "amps": 6.2, "run": 95, "gauge": 14}
BY_NAME = pytest.mark.parametrize("each", all_formulas(), ids=lambda each: each.name)


# ---- finding and working -------------------------------------------------------------------------------------


def test_the_working_is_the_line_a_technician_would_write() -> None:
    values = {"idle_volts": 119.5, "running_volts": 108.5, "amps": 6.2, "gauge": 14, "run": 95}
    assert find("joint-resistance").evaluate(values).working == (
        "14 AWG, 95 ft, 6.2 A: 3.7 V expected, 11.0 V measured: 7.3 V too many, about 1.2 Ω in a joint, "
        "which turns 45 W to heat"
    )


def test_hyphens_and_underscores_are_the_same() -> None:
    assert find("far_end_volts") is find("far-end-volts")
    values = {"near-volts": 24, "gauge": 22, "run": 100, "amps": 0.06}
    assert find("far-end-volts").evaluate(values).values["far_volts"] == pytest.approx(23.806, abs=1e-3)


def test_numbers_may_come_as_text_and_lists_as_text() -> None:
    as_text = {name: str(value) for name, value in DROP.items()}
    assert find("voltage-drop").evaluate(as_text) == find("voltage-drop").evaluate(DROP)
    pulls = {"heights": "0, 42 84", "up": "12 12 12", "down": "-12,-12,-12"}
    assert find("door-balance").evaluate(pulls).values["friction"] == 12


def test_words_are_taken_in_any_case() -> None:
    assert find("voltage-drop").evaluate({**DROP, "phase": "Three"}) == find("voltage-drop").evaluate(
        {**DROP, "phase": "three"}
    )


def test_a_direct_call_and_an_evaluation_agree() -> None:
    result = find("voltage-drop").evaluate(DROP)
    assert result.values == voltage_drop(120, 6.2, 95, 14)._asdict()


def test_an_optional_input_may_be_none_or_absent() -> None:
    brake = find("brake-coil")
    assert brake.evaluate({"volts": 24, "watts": 20}) == brake.evaluate({"volts": 24, "watts": 20, "measured": None})


# ---- refusing, in plain sentences ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "guess"),
    [("voltage-dorp", "voltage-drop"), ("chain_lenght", "chain-length"), ("spring-rat", "spring-rate")],
)
def test_a_misspelt_name_gets_a_guess(name: str, guess: str) -> None:
    with pytest.raises(FormulaError, match=rf"did you mean .*{guess}"):
        find(name)


def test_an_unknown_name_gets_the_list() -> None:
    with pytest.raises(FormulaError, match=r"there are .*voltage-drop"):
        find("zzzzzz")


def test_everything_missing_is_named_at_once() -> None:
    with pytest.raises(FormulaError) as caught:
        find("voltage-drop").evaluate({"volts": 120})
    assert all(name in str(caught.value) for name in ("amps", "run", "gauge"))
    assert "phase" not in str(caught.value)


def test_an_unknown_input_gets_a_guess() -> None:
    with pytest.raises(FormulaError, match="no input called 'gage' of voltage-drop: did you mean gauge"):
        find("voltage-drop").evaluate({**DROP, "gage": 14})


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"amps": 0}, "Current is 0 A: it must be 0.0001 to 400 A"),
        ({"gauge": 41}, "Wire size is 41 AWG: it must be -3 to 40 AWG"),
        ({"gauge": 13.5}, "Wire size must be a whole number; got 13.5"),
        ({"run": math.nan}, "Run, one way is nan ft"),
        ({"run": math.inf}, "Run, one way is inf ft"),
        ({"volts": "much"}, "must be a number in V; got 'much'"),
        ({"volts": True}, "must be a number in V; got 'True'"),
        ({"volts": [120]}, "must be a number in V"),
        ({"phase": "two"}, "Circuit must be one of dc, single, three; got 'two'"),
    ],
)
def test_a_value_outside_its_limits_is_refused(change: dict[str, object], says: str) -> None:
    with pytest.raises(FormulaError, match=re.escape(says)):
        find("voltage-drop").evaluate({**DROP, **change})  # type: ignore[dict-item]


def test_a_direct_call_is_held_to_the_same_limits() -> None:
    with pytest.raises(FormulaError, match="Wire size is 99 AWG"):
        voltage_drop(120, 6.2, 95, 99)


def test_a_long_text_is_not_thrown_back_whole() -> None:
    with pytest.raises(FormulaError) as caught:
        find("voltage-drop").evaluate({**DROP, "volts": "x" * 10_000})
    assert len(str(caught.value)) < 200


def test_a_list_is_bounded() -> None:
    with pytest.raises(FormulaError, match="takes 1 to 500 numbers; got 501"):
        find("best-step").evaluate({"stops": [0.0] * 501})
    with pytest.raises(FormulaError, match="takes 1 to 500 numbers; got 0"):
        find("best-step").evaluate({"stops": []})


def test_two_formulas_cannot_share_a_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_registry", {"taken-before": None})
    file = formula(title="", working="", source="", limits="")

    def taken_before(x: X) -> Y:
        return x

    with pytest.raises(TypeError, match="two formulas are called taken-before"):
        file(taken_before)


def test_an_overflow_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_registry", {})
    file = formula(title="Huge", working="", source="", limits="")

    @file
    def huge(x: X) -> Y:
        return x * 1e308

    @file
    def nothing(x: X) -> Y:
        return 1 / x

    for call in (lambda: huge(1e10), lambda: nothing(0)):
        with pytest.raises(FormulaError, match="these values together give no answer"):
            call()


# ---- the data of every formula -------------------------------------------------------------------------------


@BY_NAME
def test_a_formula_is_complete_data(each: Formula) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", each.name)
    assert each.title
    assert each.subject in {name.replace("_", " ") for name in module.SUBJECTS}
    assert len(each.source) > 8
    assert len(each.limits) > 8
    for part in (*each.inputs, *each.outputs):
        assert re.fullmatch(r"[a-z][a-z0-9_]*", part.name)
        assert part.title
    for one in each.inputs:
        if not one.choices and not one.allowed:
            assert math.isfinite(one.least), f"{one.name} has no lower limit of validity"
            assert math.isfinite(one.most), f"{one.name} has no upper limit of validity"
        if one.default is not None:
            assert one.read(one.default) == one.default
    names = [part.name for part in (*each.inputs, *each.outputs) if part not in each.inputs]
    assert len(names) == len(set(names))


@BY_NAME
def test_a_formula_returns_what_it_says(each: Formula) -> None:
    given = typing.get_type_hints(each.function)["return"]
    if given is float:
        assert len(each.outputs) == 1
    else:
        assert given._fields == tuple(output.name for output in each.outputs)


@BY_NAME
def test_the_docstring_carries_units_source_and_limits(each: Formula) -> None:
    text = each.function.__doc__ or ""
    assert f"Source: {each.source}" in text
    assert f"Limits: {each.limits}" in text
    assert all(f"    {one.name}: {one.title}, {one.range()}" in text for one in each.inputs)


def test_subjects_come_in_order_and_names_are_unique() -> None:
    every = all_formulas()
    assert len({each.name for each in every}) == len(every)
    order = [name.replace("_", " ") for name in module.SUBJECTS]
    assert [each.subject for each in every] == sorted((each.subject for each in every), key=order.index)


def test_formulas_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        find("voltage-drop").title = "x"  # type: ignore[misc]


def test_nothing_heavy_is_imported() -> None:
    """Importing every formula loads none of the slow libraries, nor any other part of the program."""
    script = (
        "import sys, diagnose; before = set(sys.modules); from diagnose.formulas import all_formulas; "
        "all_formulas(); print(*sorted(set(sys.modules) - before))"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.split()
    ours = {name for name in found if name.startswith("diagnose") and not name.startswith("diagnose.formulas")}
    assert not ours
    assert not {name.partition(".")[0] for name in found} & {"numpy", "scipy", "pint", "networkx", "sqlalchemy"}


# ---- showing values ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (-0.0, "0"),
        (14.0, "14"),
        (3.690442, "3.69"),
        (8796.459, "8796"),
        (10_000, "10000"),
        (0.19372, "0.1937"),
        (9.99996, "10"),
        (-2.2535, "-2.253"),
        (1.99526e-7, "1.995e-07"),
        (None, "not given"),
        ("L1", "L1"),
        ((1.0, 2.5), "1, 2.5"),
        ((1.0,) * 9, "9 readings"),
    ],
)
def test_values_are_shown_as_a_person_writes_them(value: object, text: str) -> None:
    assert shown(value) == text
