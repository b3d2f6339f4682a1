"""The supply: is the voltage right, are the phases alike, is a conductor open."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown


class Limits(NamedTuple):
    """ANSI C84.1 limits of one nominal voltage, volts."""

    a_low: float
    a_high: float
    a_utilisation_low: float
    b_low: float
    b_high: float
    b_utilisation_low: float


LIMITS: dict[float, Limits] = {
    120: Limits(114, 126, 108, 110, 127, 104),
    208: Limits(197, 218, 187, 191, 220, 180),
    240: Limits(228, 252, 216, 220, 254, 208),
    277: Limits(263, 291, 249, 254, 293, 240),
    480: Limits(456, 504, 432, 440, 508, 416),
    600: Limits(570, 630, 540, 550, 635, 520),
}
"""ANSI C84.1 table 1 by nominal voltage. The 120 V row from a copy of the table, the rest from memory."""

DERATING = ((0.0, 1.0), (1.0, 1.0), (2.0, 0.95), (3.0, 0.88), (4.0, 0.82), (5.0, 0.75))
"""NEMA MG-1 derating of a three-phase motor: percent unbalance, share of rated power, read off a curve."""

VOLTS_12 = Input("V", "L1 to L2", least=0, most=1000)
VOLTS_23 = Input("V", "L2 to L3", least=0, most=1000)
VOLTS_31 = Input("V", "L3 to L1", least=0, most=1000)
NOMINAL = Input("V", "Nominal voltage", allowed=tuple(LIMITS))


class SupplyBand(NamedTuple):
    band: Annotated[str, Output("", "range A (good), range B (tolerable for a while), low or high")]
    percent: Annotated[float, Output("percent", "Away from nominal")]
    range_a_low: Annotated[float, Output("V", "Range A, low end")]
    range_a_high: Annotated[float, Output("V", "Range A, high end")]


@formula(
    title="Which tolerance band a supply voltage lies in",
    working=(
        "{volts} V on a {nominal} V system ({percent} %), {point}: {band}; good is {range_a_low} to {range_a_high} V"
    ),
    source="ANSI C84.1 table 1 (120 V row from a copy; the other rows from memory)",
    from_memory=True,
    limits=(
        "60 Hz systems. Utilisation is at the operator's terminals under load; service is at the meter. A "
        "steady reading, not a dip of a few cycles."
    ),
)
def supply_band(
    nominal: Annotated[float, NOMINAL],
    volts: Annotated[float, Input("V", "Voltage measured", least=0, most=1000)],
    point: Annotated[str, Input("", "Where it was measured", choices=("utilisation", "service"))] = "utilisation",
) -> SupplyBand:
    """Range A is where a supply should be; range B is to be put right within a reasonable time."""
    limits = LIMITS[nominal]
    at_terminals = point == "utilisation"
    a_low = limits.a_utilisation_low if at_terminals else limits.a_low
    b_low = limits.b_utilisation_low if at_terminals else limits.b_low
    if a_low <= volts <= limits.a_high:
        band = "range A"
    elif b_low <= volts <= limits.b_high:
        band = "range B"
    else:
        band = "low" if volts < b_low else "high"
    return SupplyBand(band, 100 * (volts - nominal) / nominal, a_low, limits.a_high)


class VoltageUnbalance(NamedTuple):
    percent: Annotated[float, Output("percent", "Unbalance")]
    mean: Annotated[float, Output("V", "Mean of the three")]
    farthest: Annotated[str, Output("", "Pair farthest from the mean")]


@formula(
    title="Voltage unbalance of a three-phase supply",
    working=("{volts_12}, {volts_23}, {volts_31} V: mean {mean} V, {farthest} is farthest, {percent} % unbalance"),
    source="NEMA MG-1: greatest deviation from the mean over the mean (clause 14.36 from memory)",
    limits="Line to line, not to neutral. Not the spread over the mean, which reads up to twice as much.",
)
def voltage_unbalance(
    volts_12: Annotated[float, VOLTS_12], volts_23: Annotated[float, VOLTS_23], volts_31: Annotated[float, VOLTS_31]
) -> VoltageUnbalance:
    """Greatest deviation from the mean, over the mean."""
    pairs = {"L1-L2": volts_12, "L2-L3": volts_23, "L3-L1": volts_31}
    mean = sum(pairs.values()) / 3
    if mean <= 0:
        raise FormulaError("All three readings are zero: there is no supply to judge.")
    farthest = max(pairs, key=lambda pair: abs(pairs[pair] - mean))
    return VoltageUnbalance(100 * abs(pairs[farthest] - mean) / mean, mean, farthest)


class UnbalanceDerating(NamedTuple):
    factor: Annotated[float, Output("", "Share of rated power it may give")]
    verdict: Annotated[str, Output("", "run, derate, or do not run")]


@formula(
    title="How far unbalance derates a three-phase motor",
    working="{percent} % unbalance: {verdict}, factor {factor}",
    source="NEMA MG-1 derating figure read as a table and interpolated (clause 14.36 from memory)",
    limits="Read off a curve to ±0.01. Above 5 % the standard advises against running at all.",
)
def unbalance_derating(
    percent: Annotated[float, Input("percent", "Voltage unbalance", least=0, most=100)],
) -> UnbalanceDerating:
    """The standard's curve, straight between whole percents; nothing above 5 %."""
    if percent > DERATING[-1][0]:
        return UnbalanceDerating(0.0, "do not run")
    for (low, high_factor), (high, low_factor) in itertools.pairwise(DERATING):
        if percent <= high:
            share = (percent - low) / (high - low)
            factor = high_factor + share * (low_factor - high_factor)
            break
    return UnbalanceDerating(factor, "run" if factor == 1 else "derate")


class OpenConductor(NamedTuple):
    open: Annotated[str, Output("", "none, L1, L2, L3, or cannot tell")]
    why: Annotated[str, Output("", "Why")]


WHOLE = 0.867
"""A pair at or above this share of nominal is whole: the range B utilisation minimum, 104 of 120 V."""

GONE = 0.70
"""A pair at or below this share is gone. Through the windings of a standing motor it floats near one half."""

_CONDUCTORS = ("L1", "L2", "L3")
_CURRENT = "read the current in each conductor: the open one carries none"


def _by_current(amps: Sequence[float]) -> OpenConductor:
    greatest = max(amps)
    if greatest == 0:
        return OpenConductor("cannot tell", "no conductor carries current: the motor is not running")
    dead = [name for name, each in zip(_CONDUCTORS, amps, strict=True) if each < 0.1 * greatest]
    live = [each for each in amps if each >= 0.1 * greatest]
    alike = min(live) >= 0.75 * greatest
    if len(dead) == 1 and alike:
        return OpenConductor(dead[0], f"{dead[0]} carries no current while the other two carry alike")
    if not dead and alike:
        return OpenConductor("none", "all three conductors carry alike")
    return OpenConductor("cannot tell", "the currents fit neither three alike nor two alike and one at nothing")


def _by_voltage(pairs: tuple[float, float, float], running: bool) -> OpenConductor:
    """`pairs` as shares of nominal, in the order L1-L2, L2-L3, L3-L1; pair i lacks conductor i+2."""
    lacking = ("L3", "L1", "L2")
    if max(pairs) > 1.1:
        return OpenConductor("cannot tell", "a pair reads more than 10 % above nominal: check the nominal voltage")
    whole = [index for index, share in enumerate(pairs) if share >= WHOLE]
    gone = [index for index, share in enumerate(pairs) if share <= GONE]
    if len(gone) == 3:
        return OpenConductor("cannot tell", "no pair is whole: two or more conductors are open, or the supply is off")
    if len(whole) == 1 and len(gone) == 2:
        name = lacking[whole[0]]
        return OpenConductor(name, f"the one whole pair is the pair without {name}")
    if not running:
        if len(whole) == 3:
            return OpenConductor("none", "all three pairs are whole with the motor stopped")
        return OpenConductor("cannot tell", "the readings fit neither three whole pairs nor one")
    unbalance = voltage_unbalance(*pairs).percent
    if len(whole) == 3 and unbalance <= 2:
        return OpenConductor("none", "all three pairs are whole and within 2 % of their mean")
    highest = max(pairs)
    lower = [share for share in pairs if share <= 0.94 * highest]
    if highest >= WHOLE and len(lower) == 2:
        name = lacking[pairs.index(highest)]
        return OpenConductor(name, f"both pairs with {name} sag together, held up by the motor itself; {_CURRENT}")
    return OpenConductor("cannot tell", f"a running motor feeds an open conductor back; {_CURRENT}")


def _open_working(values: Mapping[str, Any]) -> str:
    volts = ", ".join(shown(values[name]) for name in ("volts_12", "volts_23", "volts_31"))
    found = {"none": "no conductor open", "cannot tell": "cannot tell"}.get(values["open"], values["open"] + " open")
    return f"{volts} V of {shown(values['nominal'])} V, motor {values['motor']}: {found}: {values['why']}"


@formula(
    title="Which conductor of a three-phase supply is open",
    working=_open_working,
    source=(
        "Symmetrical components of a motor with one line open (negative over positive sequence impedance); "
        "the trade's figure that a running motor holds the open line above 92 % of supply; ANSI C84.1 for "
        "what is whole"
    ),
    limits=(
        "Stopped: on the line side, or with the motor still connected. Running: the motor holds the open "
        "line up, so volts alone seldom settle it; with all three currents given, the currents decide. One "
        "open conductor only."
    ),
)
def open_conductor(
    volts_12: Annotated[float, VOLTS_12],
    volts_23: Annotated[float, VOLTS_23],
    volts_31: Annotated[float, VOLTS_31],
    nominal: Annotated[float, Input("V", "Nominal voltage, line to line", least=100, most=600)],
    motor: Annotated[str, Input("", "The motor was", choices=("stopped", "running"))] = "stopped",
    amps_1: Annotated[float | None, Input("A", "Current in L1, running", least=0, most=1000)] = None,
    amps_2: Annotated[float | None, Input("A", "Current in L2, running", least=0, most=1000)] = None,
    amps_3: Annotated[float | None, Input("A", "Current in L3, running", least=0, most=1000)] = None,
) -> OpenConductor:
    """The pair that does not touch the open conductor stays whole while the other two collapse or sag.

    With the motor stopped, whole is whole and gone is gone. With the motor running, the open line is fed
    back through the windings: both its pairs sag by about 1.4 times the ratio of negative to positive
    sequence impedance, often less than a technician would notice.
    """
    amps = [each for each in (amps_1, amps_2, amps_3) if each is not None]
    if amps and (len(amps) < 3 or motor != "running"):
        raise FormulaError("Currents help only with the motor running, and only all three of them: give three or none.")
    if amps:
        return _by_current(amps)
    pairs = (volts_12 / nominal, volts_23 / nominal, volts_31 / nominal)
    return _by_voltage(pairs, motor == "running")


class MotorVoltage(NamedTuple):
    percent: Annotated[float, Output("percent", "Voltage away from the plate")]
    hertz_percent: Annotated[float, Output("percent", "Frequency away from the plate")]
    together: Annotated[float, Output("percent", "The two deviations added, signs dropped")]
    verdict: Annotated[str, Output("", "within, low, high, or frequency")]


@formula(
    title="Is the voltage within what a motor tolerates",
    working="{volts} V at a {plate_volts} V motor: {percent} %, frequency {hertz_percent} %: {verdict}",
    source="NEMA MG-1 12.44.1: ±10 % voltage, ±5 % frequency, their sum within 10 %",
    limits=(
        "At the motor's terminals while it runs at rated load. Running within this is allowed, not as good as rated."
    ),
)
def motor_voltage(
    plate_volts: Annotated[float, Input("V", "Voltage on the motor's plate", least=12, most=1000)],
    volts: Annotated[float, Input("V", "Voltage at the motor, running", least=0, most=1000)],
    plate_hertz: Annotated[float, Input("Hz", "Frequency on the plate", least=25, most=400)] = 60,
    hertz: Annotated[float, Input("Hz", "Frequency measured", least=10, most=440)] = 60,
) -> MotorVoltage:
    """Deviations from the plate, each and together."""
    percent = 100 * (volts - plate_volts) / plate_volts
    hertz_percent = 100 * (hertz - plate_hertz) / plate_hertz
    together = abs(percent) + abs(hertz_percent)
    slack = 1e-9  # 103.5 of 115 V is exactly 10 % low on paper and a hair more in binary
    if abs(hertz_percent) > 5 + slack:
        verdict = "frequency"
    elif together > 10 + slack:
        verdict = "low" if percent < 0 else "high"
    else:
        verdict = "within"
    return MotorVoltage(percent, hertz_percent, together, verdict)
