"""Uncertainties against published figures."""

from __future__ import annotations

import math

import pytest

from diagnose.knowledge.model import Check, Instrument
from diagnose.quantities import combine
from diagnose.reasoning.situation import instrument_error


def error_of(value: float, **limits: float) -> float:
    """The standard uncertainty of a reading by an instrument with these limits of error."""
    meter = Instrument(id="meter", title="meter", **limits)
    return instrument_error(Check(id="reading", minutes=1, measure="Reading", instrument=meter), value)


@pytest.mark.parametrize(
    ("value", "percent", "counts", "step", "limit", "expected"),
    [(120.0, 0.7, 2, 0.1, 1.04, 0.60044), (25.0, 0.5, 2, 0.1, 0.325, 0.18764), (-120.0, 0.7, 2, 0.1, 1.04, 0.60044)],
)
def test_meter_of_percent_and_counts(
    value: float, percent: float, counts: float, step: float, limit: float, expected: float
) -> None:
    """±(% of reading + counts) as a rectangular distribution (JCGM 100:2008, 4.3.7)."""
    found = error_of(value, percent=percent, counts=counts, step=step)
    assert found == pytest.approx(limit / math.sqrt(3), rel=1e-12)
    assert found == pytest.approx(expected, abs=5e-6)


def test_absolute_limit() -> None:
    """JCGM 100:2008, 4.4.5: 96 °C to 104 °C, rectangular, is 2.3 °C; H.1.3.4: ±0.05 °C is 0.029 °C (from memory)."""
    assert error_of(100.0, absolute=4.0) == pytest.approx(2.3, abs=0.05)
    assert error_of(20.0, absolute=0.05) == pytest.approx(0.029, abs=5e-4)


def test_the_display_step_alone_adds_nothing() -> None:
    """The likelihood integrates over the step; here it would be counted twice."""
    assert error_of(24.0, step=0.1) == 0.0


TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


def test_scatter_of_repeated_readings() -> None:
    """JCGM 100:2008, 4.4.3 and table 1 (from memory): mean 100.14 °C, standard uncertainty 0.33 °C."""
    mean, uncertainty = combine(TEMPERATURES, [0.0] * 20)
    assert mean == pytest.approx(100.145, abs=1e-9)
    assert uncertainty == pytest.approx(0.333, abs=5e-4)


def test_the_instruments_own_error_does_not_average_out() -> None:
    assert combine([24.0] * 100, [0.6] * 100) == (24.0, pytest.approx(0.6, rel=1e-12))
    _, uncertainty = combine(TEMPERATURES, [2.3] * 20)
    assert uncertainty == pytest.approx(math.hypot(0.3329157, 2.3), rel=1e-6)


def test_more_readings_reduce_the_scatter_only() -> None:
    few = combine([23.0, 25.0], [0.5, 0.5])[1]
    many = combine([23.0, 25.0] * 50, [0.5] * 100)[1]
    assert 0.5 < many < few == pytest.approx(math.hypot(1.0, 0.5), rel=1e-12)


def test_one_reading_is_itself() -> None:
    assert combine([24.0], [0.6]) == (24.0, 0.6)


def test_what_cannot_be_combined_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        combine([], [])
    with pytest.raises(ValueError, match="one uncertainty for each"):
        combine([1.0, 2.0], [0.1])
    with pytest.raises(ValueError, match="cannot be averaged"):
        combine([1.0, math.inf], [0.1, 0.1])


def test_above_its_range_an_instrument_has_no_error_in_its_unit() -> None:
    assert error_of(math.inf, percent=1) == 0.0
