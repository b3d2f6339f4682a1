"""Computed checks: what a formula is fed with, and that nothing a tree names makes the reasoning stumble."""

from __future__ import annotations

import math
from typing import Any

import msgspec
import pytest

from diagnose.knowledge.model import Check, Trees
from diagnose.reasoning.compute import Computed, compute

KNOWN = {"eye-volts-far-end": 21.0, "eye-lamp-receiver": "dark"}


@pytest.fixture
def drop() -> Check:
    return Check(
        id="drop",
        compute="Drop over the wire",
        unit="V",
        plausible=(0.0, 60.0),
        formula="voltage-drop.drop",
        inputs={"volts": "eye-volts-far-end", "amps": "0.5 A", "run": "100 ft", "gauge": "22 AWG"},
        minutes=0,
        energy="any",
    )


def test_a_reading_feeds_a_formula_and_brings_its_error(small_trees: Trees, drop: Check) -> None:
    result = compute(small_trees, drop, KNOWN, {"eye-volts-far-end": 0.2}, {})
    assert result is not None
    # 22 AWG copper has 16.14 ohm/kft at 20 degC (wire tables after ASTM B258; from memory); warmed to 75 degC, and 2 %
    # for the lay of its strands.
    assert result.value == pytest.approx(2 * 0.1 * 0.5 * 16.14 * (1 + 0.00393 * 55) * 1.02, rel=0.01)
    assert "22 AWG" in result.working
    share = msgspec.structs.replace(drop, formula="voltage-drop.far_volts")
    left = compute(small_trees, share, KNOWN, {"eye-volts-far-end": 0.2}, {})
    assert left is not None
    assert left.error == pytest.approx(0.2)


def test_errors_of_several_readings_add_in_quadrature_each_by_how_far_it_moves_the_result(
    small_trees: Trees, drop: Check
) -> None:
    """JCGM 100:2008, 5.1.2, equation 10: the far volts fall by the wire's ohms for each ampere more."""
    amps = Check(id="eye-amps", measure="Current", unit="A", plausible=(0.0, 5.0), minutes=1)
    trees = msgspec.structs.replace(small_trees, checks={**small_trees.checks, "eye-amps": amps})
    far = msgspec.structs.replace(drop, formula="voltage-drop.far_volts", inputs={**drop.inputs, "amps": "eye-amps"})
    known, errors = {**KNOWN, "eye-amps": 0.5}, {"eye-volts-far-end": 0.2, "eye-amps": 0.05}
    lost, left = compute(trees, drop, known, errors, {}), compute(trees, far, known, errors, {})
    assert lost is not None and left is not None and isinstance(lost.value, float)
    ohms = lost.value / 0.5
    assert left.error == pytest.approx(math.hypot(0.2, ohms * 0.05), rel=1e-6)
    assert 0.2 < left.error < 0.2 + ohms * 0.05


def worked_out(
    small: Trees, formula: str, unit: str, units: dict[str, str], values: dict[str, float], errors: dict[str, float]
) -> Computed:
    """What a formula makes of readings, put as checks among the small trees; ``unit`` is its own, ``units`` theirs."""
    readings = {
        name: Check(id=name, measure=name, unit=of, plausible=(0.0, 9000.0), minutes=1) for name, of in units.items()
    }
    check = Check(
        id="result",
        compute="Result",
        unit=unit,
        plausible=(0.0, 1e6),
        formula=formula,
        inputs={name: name for name in units},
        minutes=0,
        energy="any",
    )
    trees = msgspec.structs.replace(small, checks={**small.checks, **readings})
    result = compute(trees, check, values, errors, {})
    assert result is not None
    return result


def ohms_error(small: Trees, volts: float, watts: float, errors: dict[str, float]) -> float:
    """The standard error of a coil's ohms, V²/P, from those of its volts and of its watts."""
    units = {"volts": "V", "watts": "W"}
    result = worked_out(small, "brake-coil.ohms", "ohm", units, {"volts": volts, "watts": watts}, errors)
    assert result.value == pytest.approx(volts**2 / watts)
    return result.error


def test_an_error_moves_the_result_by_half_of_what_lies_between_its_two_sides(small_trees: Trees) -> None:
    """JCGM 100:2008, 5.1.3, note 2: of a square that is the slope itself, 2V/P; of 1/P it is V²/(P² - u²)."""
    by_volts, by_watts = 2 * 90 / 30 * 5, 90**2 / (30**2 - 10**2) * 10
    assert ohms_error(small_trees, 90, 30, {"volts": 5}) == pytest.approx(by_volts)
    assert ohms_error(small_trees, 90, 30, {"watts": 10}) == pytest.approx(by_watts)
    assert ohms_error(small_trees, 90, 30, {"volts": 5, "watts": 10}) == pytest.approx(math.hypot(by_volts, by_watts))


@pytest.mark.parametrize(("watts", "inside"), [(0.1, 0.15), (2000, 1999.95)])
def test_at_an_end_of_a_formulas_limits_the_side_that_is_left_counts(
    small_trees: Trees, watts: float, inside: float
) -> None:
    """A coil of 0.1 W to 2000 W is what the formula takes."""
    error = ohms_error(small_trees, 90, watts, {"watts": 0.05})
    assert error == pytest.approx(abs(90**2 / inside - 90**2 / watts), rel=1e-6)


def test_where_the_result_turns_between_the_two_sides_its_error_is_not_nothing(
    small_trees: Trees,
) -> None:
    """Three equal voltages: one that is 3 V up or down is 2 V off a mean that it moved by 1 V."""
    lines = ("volts_12", "volts_23", "volts_31")
    units, equal = dict.fromkeys(lines, "V"), dict.fromkeys(lines, 480.0)
    result = worked_out(small_trees, "voltage-unbalance.percent", "percent", units, equal, {"volts_12": 3.0})
    assert result.value == 0
    assert result.error == pytest.approx(100 * 2 / 479)


@pytest.mark.parametrize(
    "change",
    [
        {"formula": "no-such-formula"},
        {"formula": "voltage-drop.no-such-output"},
        {"inputs": {"no_such_input": "3 V"}},
        {"inputs": {}},
        {"inputs": {"volts": "3 bananas", "amps": "0.5 A", "run": "100 ft", "gauge": "22 AWG"}},
        {"inputs": {"volts": "nothing", "amps": "0.5 A", "run": "100 ft", "gauge": "22 AWG"}},
        {"inputs": {"volts": "24 V", "amps": "eye-volts-far-end", "run": "100 ft", "gauge": "22 AWG"}},
        {"inputs": {"volts": "24 V", "amps": "eye-lamp-receiver", "run": "100 ft", "gauge": "22 AWG"}},
        {"inputs": {"volts": "24 V", "amps": "0.5 A", "run": "height", "gauge": "22 AWG"}},
        {"unit": "ft"},
        {"unit": "no-such-unit"},
        {"unit": "", "answers": ("low", "high")},
        {"measured": "no-such-check"},
        {"measured": "eye-lamp-receiver"},
    ],
)
def test_what_cannot_be_computed_tells_nothing_and_never_raises(
    small_trees: Trees, drop: Check, change: dict[str, Any]
) -> None:
    broken = msgspec.structs.replace(drop, **change)
    assert compute(small_trees, broken, KNOWN, {}, {"height": "tall"}) is None


def test_errors_add_as_the_sides_of_a_right_angle_and_none_is_too_large(small_trees: Trees, drop: Check) -> None:
    missing = msgspec.structs.replace(drop, formula="voltage-drop.far_volts", measured="eye-volts-far-end")
    missing = msgspec.structs.replace(missing, inputs={**drop.inputs, "volts": "eye-volts-near-end"})
    known = {"eye-volts-far-end": 21.0, "eye-volts-near-end": 24.0}
    near = msgspec.structs.replace(small_trees.checks["eye-volts-far-end"], id="eye-volts-near-end")
    trees = msgspec.structs.replace(small_trees, checks={**small_trees.checks, near.id: near})
    result = compute(trees, missing, known, {"eye-volts-far-end": 0.3, "eye-volts-near-end": 0.4}, {})
    assert result is not None
    assert result.error == pytest.approx(0.5)
    for error in (1e200, math.inf):
        huge = compute(trees, missing, known, {"eye-volts-far-end": error}, {})
        assert huge is None or math.isfinite(huge.error)


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan, 1e308, -1e308, (1.0, 2.0), "dark"])
def test_no_reading_makes_it_raise(small_trees: Trees, drop: Check, value: Any) -> None:
    assert compute(small_trees, drop, {"eye-volts-far-end": value}, {"eye-volts-far-end": 1e308}, {}) is None
