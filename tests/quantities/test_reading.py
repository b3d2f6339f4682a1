"""What technicians type, with the exact values, and what must be refused."""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.quantities import Quantity, QuantityError, canonical_unit, known_unit, read_quantity, show, to_unit

INCH = 0.0254
FOOT = 0.3048
POUND_FORCE = 4.4482216152605

READ = [
    # Lengths: a tape's fractions in every dress.
    ("3 1/8 in", "in", 0.079375),
    ('3-1/8"', "in", 0.079375),
    ('3.125"', "in", 0.079375),
    ("3 1/8", "in", 0.079375),
    ("  3   1/8  in. ", "in", 0.079375),
    ("3 1 / 8 in", "in", 0.079375),
    ("3⅛", "in", 0.079375),
    ("3 ⅛″", "in", 0.079375),
    ("3-⅛ inches", "in", 0.079375),
    ("3¹⁄₈ in", "in", 0.079375),
    ("3 1⁄8 in", "in", 0.079375),
    ("3\u00a01/8\u2009in", "in", 0.079375),
    ("3½”", "in", 0.0889),
    ("½", "in", 0.0127),
    ("-½ in", "in", -0.0127),
    ("−3 1/8 in", "in", -0.079375),
    ("¼ in", "in", 0.00635),
    ("⅓ ft", "ft", 0.1016),
    ("⅔'", "ft", 0.2032),
    ("5/16", "in", 0.0079375),
    ("79 mm", "mm", 0.079),
    ("79 mm", "in", 0.079),
    ("79 MM", "in", 0.079),
    ("7.9cm", "in", 0.079),
    ("3 IN", "in", 0.0762),
    ("3''", "in", 0.0762),
    ("3 M", "m", 3.0),
    ("125 thou", "in", 0.003175),
    # Feet and inches.
    ("10' 6 1/2\"", "ft", 3.2131),
    ("10’ 6½”", "ft", 3.2131),
    ("10 ft 6 in", "in", 3.2004),
    ("10 ft. 6 in.", "in", 3.2004),
    ("10 feet 6 inches", "mm", 3.2004),
    ("10 ft, 6 in", "in", 3.2004),
    ("10 ft and 6 in", "in", 3.2004),
    ("10ft6", "ft", 3.2004),
    ("10'6", "ft", 3.2004),
    ("8ft2", "in", 98 * INCH),
    ("8ft2", "ft²", 8 * FOOT**2),
    ("10'-6\"", "ft", 3.2004),
    ("10' - 6-1/2\"", "ft", 3.2131),
    ("-10' 6\"", "ft", -3.2004),
    ("10'", "in", 3.048),
    ("10", "ft", 3.048),
    ("2 m 10 cm", "m", 2.1),
    # Numbers: points, commas, thousands, exponents.
    ("112.5", "V", 112.5),
    ("112,5", "V", 112.5),
    ("1,2500", "V", 1.25),
    ("0,125", "V", 0.125),
    (",5", "V", 0.5),
    (".5", "V", 0.5),
    ("24.", "V", 24.0),
    ("1,250.5", "V", 1250.5),
    ("1.250,5", "V", 1250.5),
    ("1250,500", "V", 1250.5),
    ("1,250,000", "cycles", 1250000.0),
    ("1.250.000", "cycles", 1250000.0),
    ("1e3", "V", 1000.0),
    ("1.5E-3 V", "V", 0.0015),
    ("+5", "V", 5.0),
    ("-0", "V", 0.0),
    # Volts and amperes.
    ("24 mV", "V", 0.024),
    ("24 mv", "V", 0.024),
    ("24 MV", "V", 24e6),
    ("24 v", "V", 24.0),
    ("24 VAC", "V", 24.0),
    ("24 Vdc", "V", 24.0),
    ("24 V ac", "V", 24.0),
    ("24 volts dc", "V", 24.0),
    ("24 VAC", "VAC", 24.0),
    ("5 amps", "A", 5.0),
    ("50 mA", "A", 0.05),
    ("50 MA", "A", 0.05),
    # Ohms.
    ("1k5", "ohm", 1500.0),
    ("2M2", "ohm", 2.2e6),
    ("4R7", "ohm", 4.7),
    ("R47", "ohm", 0.47),
    ("47R", "ohm", 47.0),
    ("4.7k", "ohm", 4700.0),
    ("4.7 K", "ohm", 4700.0),
    ("10 MΩ", "ohm", 1e7),
    ("10 M\u2126", "Ω", 1e7),
    ("10 Mohm", "ohm", 1e7),
    ("10 MOHM", "ohm", 1e7),
    ("10 meg", "ohm", 1e7),
    ("10 kohm", "ohm", 1e4),
    ("10 k ohms", "ohm", 1e4),
    ("10 mΩ", "ohm", 0.01),
    ("10 ohms", "ohm", 10.0),
    ("OL", "ohm", math.inf),
    ("OL", "A", math.inf),
    ("over range", "V", math.inf),
    ("over range A", "A", math.inf),
    ("O.L", "lbf", math.inf),
    ("overload", "psi", math.inf),
    ("no continuity", "ohm", math.inf),
    ("out of range", "kohm", math.inf),
    ("O.L", "ohm", math.inf),
    ("0L MΩ", "ohm", math.inf),
    ("overload", "ohm", math.inf),
    ("Open", "ohm", math.inf),
    ("open circuit", "ohm", math.inf),
    ("∞", "ohm", math.inf),
    # Wire.
    ("14 AWG", "AWG", 14.0),
    ("#14", "AWG", 14.0),
    ("14 ga", "AWG", 14.0),
    ("14 gauge", "AWG", 14.0),
    ("AWG 14", "AWG", 14.0),
    ("14", "AWG", 14.0),
    ("0 AWG", "AWG", 0.0),
    ("1/0", "AWG", 0.0),
    ("2/0 AWG", "AWG", -1.0),
    ("00", "AWG", -1.0),
    ("4/0", "AWG", -3.0),
    # Forces, masses, torques.
    ("25 lb", "lbf", 25 * POUND_FORCE),
    ("25 lbs", "N", 25 * POUND_FORCE),
    ("25 pounds", "lbf", 25 * POUND_FORCE),
    ("25 LBF", "lbf", 25 * POUND_FORCE),
    ("25 lb", "lb", 11.33980925),
    ("25 lb", "kg", 11.33980925),
    ("5 lb 4 oz", "lb", 5.25 * 0.45359237),
    ("10 kgf", "N", 98.0665),
    ("50 ft-lb", "ft-lb", 50 * FOOT * POUND_FORCE),
    ("50 lb-ft", "ft-lb", 50 * FOOT * POUND_FORCE),
    ("50 foot pounds", "N·m", 50 * FOOT * POUND_FORCE),
    ("50 in-lb", "ft-lb", 50 * INCH * POUND_FORCE),
    ("50 in.-lbs.", "ft-lb", 50 * INCH * POUND_FORCE),
    ("5 N m", "N·m", 5.0),
    ("5 Nm", "in-lb", 5.0),
    # Temperatures.
    ("70 °F", "°F", (70 + 459.67) * 5 / 9),
    ("70", "F", (70 + 459.67) * 5 / 9),
    ("70 deg F", "°C", (70 + 459.67) * 5 / 9),
    ("70°", "°F", (70 + 459.67) * 5 / 9),
    ("21 c", "°F", 294.15),
    ("21 ℃", "°F", 294.15),
    ("-40 F", "°C", 233.15),
    # Times.
    ("1:30", "s", 90.0),
    ("1:30", "min", 90.0),
    ("1:30 min", "h", 90.0),
    ("1:02:30", "h", 3750.0),
    ("0:05.5", "s", 5.5),
    ("1 min 30 s", "s", 90.0),
    ("1m30s", "s", 90.0),
    ("1 min 30", "s", 90.0),
    ("1h30", "min", 5400.0),
    ("90 sec", "s", 90.0),
    ("2 days", "days", 172800.0),
    ("8 years", "years", 8 * 365.25 * 86400),
    ("250 ms", "s", 0.25),
    # The rest.
    ("3%", "%", 3.0),
    ("3 percent", "%", 3.0),
    ("-67", "dBm", -67.0),
    ("−67 dBm", "dBm", -67.0),
    ("–67 DBM", "dBm", -67.0),
    ("-6 dB", "dB", -6.0),
    ("1725 RPM", "rpm", 1725 * 2 * math.pi / 60),
    ("60 hz", "Hz", 60.0),
    ("2.437 GHz", "MHz", 2.437e9),
    ("35 µF", "µF", 35e-6),
    ("35 \u03bcF", "µF", 35e-6),
    ("35 uF", "µF", 35e-6),
    ("35 MFD", "µF", 35e-6),
    ("2 F", "µF", 2.0),
    ("54 Mbit/s", "Mbit/s", 54e6),
    ("54 mbps", "Mbit/s", 54e6),
    ("5 MB/s", "Mbit/s", 40e6),
    ("30 psi", "kPa", 30 * POUND_FORCE / INCH**2),
    ("30 kPa", "psi", 30000.0),
    ("7.5 in/s", "in/s", 7.5 * INCH),
    ("60 ft / min", "in/s", 60 * FOOT / 60),
    ("12 inches per second", "mm/s", 12 * INCH),
    ("3/4 hp", "hp", 0.75 * 550 * FOOT * POUND_FORCE),
    ("2.5 mm2", "mm²", 2.5e-6),
    ("7 turns", "turns", 7.0),
    ("7 1/4 turns", "turns", 7.25),
    ("7 turns", "", 7.0),
    ("104 links", "links", 104.0),
    ("200 cycles", "cycles", 200.0),
    ("12", "count", 12.0),
    # What show() writes in both systems.
    ("79 mm (3 1/8 in)", "mm", 0.079),
    ("70 °F (21.1 °C)", "°F", (70 + 459.67) * 5 / 9),
    ("OL (open)", "ohm", math.inf),
]


@pytest.mark.parametrize(("text", "unit", "value"), READ, ids=[f"{text} for {unit}" for text, unit, _ in READ])
def test_reads(text: str, unit: str, value: float) -> None:
    quantity = read_quantity(text, unit)
    assert quantity.value == value or quantity.value == pytest.approx(value, rel=1e-14)
    assert quantity.unit == canonical_unit(unit)
    assert quantity.raw == text
    assert read_quantity(quantity.raw, unit) == quantity


REFUSED = [
    # Two readings of one text.
    ("1,250", "V", "1250 or 1.250", None),
    ("-12,345 mV", "V", "12345 or 12.345", None),
    ("31/8 in", "in", "3 1/8 or 3 7/8", None),
    ("1:30", "h", "1 h 30 min or 1 min 30 s", None),
    ("54 mb/s", "Mbit/s", "Mbit/s or MB/s", None),
    ("5 MB/S", "Mbit/s", "Mbit/s or MB/s", None),
    ("2.2m", "ohm", "mΩ for thousandths or MΩ for millions", None),
    ("35 mF", "µF", "microfarads or millifarads", None),
    ("5 mPa", "MPa", "MPa", None),
    # More than one number, or less.
    ("12-24 V", "V", "more than one number", None),
    ("12 to 24", "V", "more than one number", None),
    ("10-6", "ft", "more than one number", None),
    ("10 6 1/2", "ft", "more than one number", None),
    ("10' -6\"", "ft", "more than one number", None),
    ("5' 6'", "ft", "more than one number", None),
    ("6 in 10 ft", "ft", "more than one number", None),
    ("1 250", "V", "more than one number", None),
    ("½3", "in", "more than one number", None),
    ("½½", "in", "more than one number", None),
    ("3 1/8 2/3", "in", "more than one number", None),
    ("1.2.3", "V", "not one number", None),
    ("24,1,5", "V", "not one number", None),
    ("", "V", "Nothing was typed", None),
    ("   ", "V", "Nothing was typed", None),
    ("volts", "V", "no number", None),
    ("nan", "V", "no number", None),
    ("٣ V", "V", "no number", None),
    ("１２ V", "V", "no number", None),
    ("24 ± 0.2 V", "V", "Type only what it shows", "24 V"),
    ("~24 V", "V", "does not start with a number", "24 V"),
    ("- 67 dBm", "dBm", "does not start with a number", "-67 dBm"),
    ("+-5 V", "V", "does not start with a number", "-5 V"),
    ("<0.5", "ohm", "a limit, not a reading", None),
    (">550 MΩ", "ohm", "a limit, not a reading", "OL"),
    # Fractions that are none.
    ("5/4 in", "in", "not less than one", "1 1/4 in"),
    ("3 9/8 in", "in", "not less than one", "4 1/8 in"),
    ("1/0 in", "in", "no fraction", None),
    ("0/3 in", "in", "no fraction", None),
    ("3.5 1/8 in", "in", "more than one number", None),
    # Parts that do not add up.
    ("10' 14\"", "ft", "does not add up", None),
    ("10½' 6\"", "ft", "does not add up", None),
    ("1 min 90 s", "s", "does not add up", None),
    ("1:75", "s", "no time", "1 min 30 s"),
    # Another kind of thing.
    ("24.1 in", "V", "That is a length; this check asks for volts. Type the volts you read.", None),
    ("50 lb/ft", "ft-lb", "a mass per length", None),
    ("67 dB", "dBm", "a level difference", None),
    ("5 m", "s", "a length", "5 min"),
    ("1:30", "V", "is a time", None),
    ("14 in", "AWG", "a length", None),
    ("#14", "mm", "a wire gauge", None),
    ("7 turns", "cycles", "a count of turns", None),
    ("5 J", "ft-lb", "an energy", None),
    ("60 Hz", "rpm", "a frequency", None),
    ("10 kg", "lbf", "wants a force, in N or lb", "22.05 lbf"),
    ("10 kg", "N", "wants a force, in N or lb", "98.07 N"),
    ("10 N", "kg", "wants a mass, in kg or lb", "1.02 kg"),
    ("24 VDC", "VAC", "wants alternating (AC) volts", None),
    ("24 V ac", "V dc", "wants direct (DC) volts", None),
    ("open", "A", "An open circuit carries no current", "0 A"),
    ("open circuit", "V", "is said of a resistance", None),
    ("OL", "°F", "probe is loose or broken", None),
    ("over range", "in", "says only that it is a lot", None),
    ("OL V", "A", "is a voltage", None),
    ("OL MΩ", "V", "is a resistance", None),
    ("no signal", "dBm", "weaker than the meter shows", "-100 dBm"),
    ("no reading", "A", "Type 0 only where it shows 0", None),
    ("nothing", "V", "Type 0 only where it shows 0", None),
    (">20 A", "A", "a limit, not a reading", "OL"),
    # Units and gauges that are none.
    ("24 vlots", "V", "no unit known", "24 volts"),
    ("2.5 k", "V", "no unit known", "2.5 kV"),
    ("24 [/x]", "V", "no unit known", None),
    ("5.5 1k5", "V", "more than one number", None),
    ("1k5", "V", "no unit known", None),
    ("M60", "ohm", "does not start with a number", "60"),
    ("14.5", "AWG", "whole number from 0 to 56", "14 AWG"),
    ("14/2", "AWG", "whole number from 0 to 56", "14 AWG"),
    ("14-2 AWG", "AWG", "whole number from 0 to 56", "14 AWG"),
    ("57 AWG", "AWG", "whole number from 0 to 56", None),
    ("-14 AWG", "AWG", "whole number from 0 to 56", None),
    # Sizes no instrument shows.
    ("1e16", "V", "far outside", None),
    ("1e15 kΩ", "ohm", "far outside", None),
    ("1e400", "V", "far outside", None),
    ("1e-400", "V", "far outside", None),
    ("1e99999999999999", "V", "far outside", None),
    ("-500 °F", "°F", "below absolute zero", None),
    ("9" * 201, "V", "201 characters", None),
    # Characters nobody typed.
    ("24\x00 V", "V", "invisible or control character", "24 V"),
    ("24\tV", "V", "invisible or control character", "24 V"),
    ("2\u200b4 V", "V", "invisible or control character", None),
    ("\u202e24 V", "V", "invisible or control character", "24 V"),
    ("24\x1b[31m V", "V", "invisible or control character", None),
    ("24\ud800 V", "V", "invisible or control character", "24 V"),
    # Brackets.
    ("79 mm (4 in)", "mm", "differ", None),
    ("24.1 V (mains)", "V", "Brackets are read only", "24.1 V"),
    ("[bold]24[/bold]", "V", "does not start with a number", None),
]


@pytest.mark.parametrize(
    ("text", "unit", "says", "suggestion"), REFUSED, ids=[f"{text[:20]!r} for {unit}" for text, unit, *_ in REFUSED]
)
def test_refuses(text: str, unit: str, says: str, suggestion: str | None) -> None:
    with pytest.raises(QuantityError) as caught:
        read_quantity(text, unit)
    assert says in str(caught.value)
    assert caught.value.text == text
    assert caught.value.suggestion == suggestion
    assert_is_plain(str(caught.value))
    if suggestion is not None:
        read_quantity(suggestion, unit)


def assert_is_plain(sentence: str) -> None:
    """One or two sentences that can be shown anywhere."""
    assert sentence.isprintable()
    assert sentence.endswith((".", "?"))
    assert len(sentence) < 240
    sentence.encode("utf-8")


def test_an_unknown_unit_is_the_callers_error_and_names_a_near_one() -> None:
    with pytest.raises(QuantityError, match=r"no unit known here\. Did you mean volts\?"):
        read_quantity("24", "vlots")


def test_infinity_survives_only_as_typed() -> None:
    """JSON has no infinity; the typed text brings it back."""
    open_circuit = read_quantity("OL", "ohm")
    stored = msgspec.json.decode(msgspec.json.encode(open_circuit))
    assert stored["value"] is None
    assert read_quantity(stored["raw"], "ohm") == open_circuit == Quantity(math.inf, "Ω", "OL")


EXAMPLE_UNITS = ["V", "in", "ft", "mm", "lbf", "ohm", "°F", "s", "h", "AWG", "dBm", "%", "turns", "", "µF", "Mbit/s"]


@given(text=st.text(max_size=40), unit=st.sampled_from(EXAMPLE_UNITS))
@settings(max_examples=400, deadline=None)
def test_any_text_is_read_again_alike_or_refused_in_plain_words(text: str, unit: str) -> None:
    try:
        quantity = read_quantity(text, unit)
    except QuantityError as error:
        assert_is_plain(str(error))
        assert error.text == text
        if error.suggestion is not None:
            read_quantity(error.suggestion, unit)
        return
    assert not math.isnan(quantity.value)
    assert read_quantity(quantity.raw, unit) == quantity
    read_quantity(show(quantity.value, unit, "both"), unit)


@given(
    value=st.decimals(min_value=-(10**9), max_value=10**9, places=4),
    unit=st.sampled_from(["V", "in", "mm", "lbf", "ohm", "s", "dBm", "%", "µF", "N·m", "psi"]),
)
@settings(max_examples=300, deadline=None)
def test_a_decimal_number_keeps_every_digit(value: object, unit: str) -> None:
    expected = float(str(value))
    for text in (f"{value:f}", f"{value:f}".replace(".", ","), f"{value:f} {unit}"):
        if text.count(",") and len(text.partition(",")[2]) == 3:
            continue
        read = read_quantity(text, unit).value
        assert to_unit(read, unit) == pytest.approx(expected, rel=1e-15, abs=1e-300)


@given(marks=st.integers(min_value=-32 * 12 * 100, max_value=32 * 12 * 100), unit=st.sampled_from(["in", "ft"]))
@settings(max_examples=300, deadline=None)
def test_a_tape_reading_is_shown_and_read_again_exactly(marks: int, unit: str) -> None:
    shown = show(marks / 32 * INCH, unit)
    assert read_quantity(shown, unit).value == pytest.approx(marks / 32 * INCH, rel=1e-15)
    assert "." not in shown


def test_every_unit_known_reads_its_own_name() -> None:
    from diagnose.quantities.units import KINDS, UNITS

    for unit in UNITS:
        assert known_unit(unit.name)
        text = f"12 {unit.name}" if KINDS[unit.kind].canonical != "AWG" else "12 AWG"
        assert to_unit(read_quantity(text, unit.name).value, unit.name) == pytest.approx(12, rel=1e-14)
        for spelling in (*unit.spellings, *unit.where_asked.split()):
            if unit.kind != "gauge":
                read_quantity(f"12 {spelling.replace('·', ' ')}", unit.name)


def test_a_space_between_milli_and_ohms_makes_no_megohms() -> None:
    assert read_quantity("5 m Ω", "ohm").value == pytest.approx(0.005)
    assert read_quantity("5 M Ω", "ohm").value == pytest.approx(5e6)
