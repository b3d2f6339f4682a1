"""A reading is shown as it was typed, with its unit, and what it is in the other one."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.quantities import QuantityError, as_typed, read_quantity, show, took_the_unit
from diagnose.quantities.units import BY_NAME, compatible

KIND_AND_UNIT = [(asked, typed) for asked in BY_NAME for typed in BY_NAME if compatible(BY_NAME[asked], BY_NAME[typed])]


@pytest.mark.parametrize(
    ("text", "unit", "told"),
    [
        ("1/8 in", "in", "1/8 in = 3.2 mm"),
        ("1/8", "in", "1/8 in = 3.2 mm"),
        ("3.2 mm", "in", "3.2 mm = 1/8 in"),
        ("1/32 in", "in", "1/32 in = 0.8 mm"),
        ("3 1/16 in", "mm", "3 1/16 in = 77.8 mm"),
        ("0.12 in", "in", "0.12 in = 3.05 mm"),
        ("10' 6", "ft", "10' 6 = 3.2 m"),
        ("208", "V", "208 V"),
        ("500 mV", "V", "500 mV = 0.5 V"),
        ("4k7", "Ω", "4k7 = 4700 Ω"),
        ("1:30", "s", "1:30 = 90 s"),
        ("OL", "Ω", "OL (open)"),
        ("over range", "Ω", "OL (open)"),
        ("14", "AWG", "14 AWG"),
        ("12", "", "12"),
    ],
)
def test_as_typed_and_as_understood(text: str, unit: str, told: str) -> None:
    assert as_typed(text, unit) == told


def test_an_eighth_is_shown_as_an_eighth_whatever_the_step() -> None:
    eighth = read_quantity("1/8 in", "in").value
    assert eighth == 0.003175
    assert show(eighth, "in", step=0.01) == "1/8 in"
    assert show(read_quantity("0.12 in", "in").value, "in", step=0.01) == "0.12 in"
    assert show(read_quantity("0.5 in", "in").value, "in", step=0.01) == "0.50 in"


@pytest.mark.parametrize(("text", "unit", "taken"), [("208", "V", "volts"), ("208 V", "V", ""), ("7", "", "")])
def test_a_bare_number_says_what_it_was_taken_as(text: str, unit: str, taken: str) -> None:
    assert took_the_unit(text, unit) == taken


def _number(name: str, eighths: int) -> str:
    return str(eighths) if BY_NAME[name].kind == "gauge" else f"{eighths / 8:g}"


@given(st.sampled_from(KIND_AND_UNIT), st.integers(1, 56))
def test_every_unit_of_every_kind_comes_back_as_it_was_typed(pair: tuple[str, str], eighths: int) -> None:
    """What stands before the sign is what was typed, and reads as the same to the last bit; what stands behind it reads
    as the same to three figures or a ruler's mark."""
    asked, typed = pair
    text = f"{_number(typed, eighths)} {typed}".strip()
    try:
        value = read_quantity(text, asked).value
    except QuantityError as error:
        # Below absolute zero, or a spelling that does not say which ohms: refused, and says so.
        assert str(error)
        return
    first, _, second = as_typed(text, asked).partition(" = ")
    assert first == text or not typed
    assert read_quantity(first, asked).value == value
    if second:
        again = read_quantity(second, asked).value
        assert again == pytest.approx(value, rel=0.04, abs=0.6 if BY_NAME[asked].kind == "temperature" else 0.0)


@given(st.sampled_from(sorted(BY_NAME)), st.integers(1, 56))
def test_a_bare_number_is_taken_in_the_unit_asked_for(unit: str, eighths: int) -> None:
    number = _number(unit, eighths)
    assert read_quantity(number, unit).value == read_quantity(f"{number} {unit}".strip(), unit).value
    assert read_quantity(as_typed(number, unit).partition(" = ")[0], unit).value == read_quantity(number, unit).value


def _is_worked_out(asked: str, typed: str) -> bool:
    kinds = (BY_NAME[asked].kind, BY_NAME[typed].kind)
    return set(kinds) == {"mass", "force"} or (kinds[0] == "time" and typed == "m")


# A mass for a force is worked out, which for kilograms keeps the number; metres for a time are minutes mistyped, and
# minutes are offered. test_reading.py holds both.
OTHERS = [
    (asked, typed)
    for asked in BY_NAME
    for typed in BY_NAME
    if not compatible(BY_NAME[asked], BY_NAME[typed]) and not _is_worked_out(asked, typed)
]


@given(st.sampled_from(OTHERS), st.integers(2, 56))
def test_another_kind_is_refused_and_its_number_never_offered(pair: tuple[str, str], number: int) -> None:
    """Beside those two, nothing that is suggested has the typed number."""
    asked, typed = pair
    try:
        read_quantity(f"{number} {typed}", asked)
    except QuantityError as error:
        offered = error.suggestion
        if offered is not None and Fraction(number) == _leading(offered):
            raise AssertionError(f"{number} {typed} for {asked}: {error}") from None


def _leading(text: str) -> Fraction | None:
    word = text.split()[0] if text.split() else ""
    try:
        return Fraction(word)
    except ValueError:
        return None


def test_a_current_for_a_voltage() -> None:
    with pytest.raises(QuantityError) as refused:
        read_quantity("5 A", "V")
    assert str(refused.value) == "That is a current; this check asks for volts. Type the volts you read."
