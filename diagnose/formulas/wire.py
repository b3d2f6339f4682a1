"""Copper wire: its size, its resistance, what it drops, and what a bad joint adds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown

RESISTIVITY = 0.15328 / 8.89e6
"""Annealed copper at 20 degC, ohm metre: 0.15328 ohm gram per square metre over 8.89 g/cm^3 (100 % IACS)."""

TEMPERATURE_COEFFICIENT = 0.00393
"""Of copper's resistance, per degC from 20 degC (IEC 60028)."""

STRANDING = 1.02
"""A strand lies on a helix, so it is longer than the wire: NEC chapter 9 table 8 has 2 to 2.6 % more."""

SIZES = (24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1, 0)
"""The sizes a supply house stocks, thinnest first."""

GAUGE = Input("AWG", "Wire size", least=-3, most=40, whole=True)
RUN = Input("ft", "Run, one way", least=0.1, most=20_000)
AMPS = Input("A", "Current", least=0.0001, most=400)
VOLTS = Input("V", "Voltage at the supply end", least=1, most=1000)
PERCENT = Input("percent", "Drop allowed", least=0.1, most=50)
PHASE = Input("", "Circuit", choices=("dc", "single", "three"))
TEMPERATURE = Input("degC", "Conductor temperature", least=-40, most=150)
STRAND = Input("", "Conductor", choices=("solid", "stranded"))

_TABLE = "NEC chapter 9 table 8 (uncoated copper, 75 degC)"
_NOTES = "NEC 210.19(A) and 215.2(A) informational notes: 3 % for the branch, 5 % in all; advice, not a rule."
_NO_REACTANCE = (
    "Copper only. Leaves out reactance: good to 1 % up to 4 AWG, to a few percent at 1/0. At 75 degC the "
    "wire is given the benefit of the doubt: a cooler wire drops less."
)


class WireSize(NamedTuple):
    diameter: Annotated[float, Output("in", "Diameter of the solid wire")]
    diameter_mm: Annotated[float, Output("mm", "Diameter of the solid wire")]
    area: Annotated[float, Output("mm^2", "Copper area")]
    circular_mils: Annotated[float, Output("cmil", "Copper area")]
    ohms_per_kft: Annotated[float, Output("ohm/kft", "Resistance of 1000 ft of one conductor")]


@formula(
    title="Diameter, area and resistance of a wire size",
    working=("{gauge} AWG {strand}: {diameter} in, {area} mm², {ohms_per_kft} Ω per 1000 ft at {temperature} °C"),
    source=f"ASTM B258 for the diameter; IEC 60028 for copper; {_TABLE}",
    limits="Copper. 1/0, 2/0, 3/0, 4/0 are 0, -1, -2, -3. Stranding adds 2 %; the table has 2 to 2.6 %.",
)
def wire_size(
    gauge: Annotated[float, GAUGE],
    temperature: Annotated[float, TEMPERATURE] = 20,
    strand: Annotated[str, STRAND] = "solid",
) -> WireSize:
    """Diameter 0.005 in times 92 to the power (36 - gauge)/39; resistance from the area."""
    inches = 0.005 * 92 ** ((36 - gauge) / 39)
    millimetres = inches * 25.4
    area = math.pi / 4 * millimetres**2
    ohms = RESISTIVITY * 304.8 / (area * 1e-6) * (1 + TEMPERATURE_COEFFICIENT * (temperature - 20))
    return WireSize(
        diameter=inches,
        diameter_mm=millimetres,
        area=area,
        circular_mils=(inches * 1000) ** 2,
        ohms_per_kft=ohms * (STRANDING if strand == "stranded" else 1),
    )


class ConductorResistance(NamedTuple):
    one_way: Annotated[float, Output("ohm", "One conductor, end to end")]
    loop: Annotated[float, Output("ohm", "Out and back")]


@formula(
    title="Resistance of a run of wire",
    working="{gauge} AWG {strand}, {run} ft: {one_way} Ω one way, {loop} Ω out and back",
    source=f"IEC 60028 for copper; {_TABLE}",
    limits="Copper. Read a wire this short with the leads' own resistance taken off.",
)
def conductor_resistance(
    gauge: Annotated[float, GAUGE],
    run: Annotated[float, RUN],
    temperature: Annotated[float, TEMPERATURE] = 20,
    strand: Annotated[str, STRAND] = "solid",
) -> ConductorResistance:
    """Resistance per 1000 ft times the run; the loop is twice that."""
    one_way = wire_size(gauge, temperature, strand).ohms_per_kft * run / 1000
    return ConductorResistance(one_way, 2 * one_way)


def _ways(phase: str) -> float:
    """Conductors' worth of drop between two lines: out and back, or √3 of one in a balanced three-phase."""
    return math.sqrt(3) if phase == "three" else 2


def _drop(amps: float, run: float, gauge: float, phase: str, temperature: float, strand: str) -> float:
    return _ways(phase) * amps * conductor_resistance(gauge, run, temperature, strand).one_way


class VoltageDrop(NamedTuple):
    drop: Annotated[float, Output("V", "Drop")]
    percent: Annotated[float, Output("percent", "Drop as a share of the supply")]
    far_volts: Annotated[float, Output("V", "Voltage left at the far end")]


@formula(
    title="Voltage drop along a run of wire",
    working="{gauge} AWG, {run} ft, {amps} A: {drop} V ({percent} %), {far_volts} V left of {volts} V",
    source=f"2·I·R·L for DC and single-phase, √3·I·R·L for three-phase; {_TABLE}; {_NOTES}",
    limits=_NO_REACTANCE,
)
def voltage_drop(
    volts: Annotated[float, VOLTS],
    amps: Annotated[float, AMPS],
    run: Annotated[float, RUN],
    gauge: Annotated[float, GAUGE],
    phase: Annotated[str, PHASE] = "single",
    temperature: Annotated[float, TEMPERATURE] = 75,
    strand: Annotated[str, STRAND] = "stranded",
) -> VoltageDrop:
    """Current times the resistance out and back, or times √3 of one conductor in a three-phase circuit."""
    drop = _drop(amps, run, gauge, phase, temperature, strand)
    if drop >= volts:
        raise FormulaError(
            f"{shown(amps)} A cannot flow: this wire alone would drop {shown(drop)} V of the {shown(volts)} "
            "V. Check the current, the run and the wire size."
        )
    return VoltageDrop(drop, 100 * drop / volts, volts - drop)


@formula(
    title="Longest run for an allowed drop",
    working="{gauge} AWG, {amps} A, {percent} % of {volts} V: at most {run} ft one way",
    source=f"The voltage drop turned round; {_TABLE}; {_NOTES}",
    limits=_NO_REACTANCE,
)
def longest_run(
    volts: Annotated[float, VOLTS],
    amps: Annotated[float, AMPS],
    gauge: Annotated[float, GAUGE],
    percent: Annotated[float, PERCENT] = 3,
    phase: Annotated[str, PHASE] = "single",
    temperature: Annotated[float, TEMPERATURE] = 75,
    strand: Annotated[str, STRAND] = "stranded",
) -> Annotated[float, Output("ft", "Longest run, one way", "run")]:
    """The run whose drop is just the allowed share of the supply."""
    return volts * percent / 100 / _drop(amps, 1, gauge, phase, temperature, strand)


class SmallestGauge(NamedTuple):
    gauge: Annotated[float, Output("AWG", "Smallest size that will do")]
    drop: Annotated[float, Output("V", "Drop with it")]
    percent_used: Annotated[float, Output("percent", "Drop as a share of the supply")]


@formula(
    title="Smallest wire size for an allowed drop",
    working=(
        "{amps} A over {run} ft, {percent} % of {volts} V: {gauge} AWG or larger ({drop} V, {percent_used} "
        "%); the current it may carry is for the code to say"
    ),
    source=f"{_TABLE}; NEC 310.3(A) for 14 AWG as the least on mains (from memory); {_NOTES}",
    limits=(
        "For the drop only: ampacity, bundling and the breaker are the code's business. Considers 24 AWG "
        f"to 1/0; above 60 V it starts at 14 AWG unless told otherwise. {_NO_REACTANCE}"
    ),
)
def smallest_gauge(
    volts: Annotated[float, VOLTS],
    amps: Annotated[float, AMPS],
    run: Annotated[float, RUN],
    percent: Annotated[float, PERCENT] = 3,
    phase: Annotated[str, PHASE] = "single",
    temperature: Annotated[float, TEMPERATURE] = 75,
    strand: Annotated[str, STRAND] = "stranded",
    thinnest: Annotated[float | None, Input("AWG", "Thinnest size to consider", least=0, most=24, whole=True)] = None,
) -> SmallestGauge:
    """The first stocked size, thinnest first, whose drop is within the allowance."""
    start = thinnest if thinnest is not None else (24 if volts <= 60 else 14)
    for gauge in SIZES:
        drop = _drop(amps, run, gauge, phase, temperature, strand)
        if gauge <= start and drop <= volts * percent / 100:
            return SmallestGauge(float(gauge), drop, 100 * drop / volts)
    raise FormulaError(
        f"Not even 1/0 AWG keeps {shown(amps)} A over {shown(run)} ft within {shown(percent)} % of "
        f"{shown(volts)} V. Shorten the run, raise the voltage or allow more."
    )


class JointResistance(NamedTuple):
    expected_drop: Annotated[float, Output("V", "Drop the wire explains")]
    measured_drop: Annotated[float, Output("V", "Drop measured")]
    excess: Annotated[float, Output("V", "Drop the wire does not explain")]
    joint_ohms: Annotated[float, Output("ohm", "Resistance of one bad joint that would explain it")]
    joint_watts: Annotated[float, Output("W", "Heat in that joint while running")]


def _joint_working(values: Mapping[str, Any]) -> str:
    start = (
        f"{shown(values['gauge'])} AWG, {shown(values['run'])} ft, {shown(values['amps'])} A: "
        f"{values['expected_drop']:.1f} V expected, {values['measured_drop']:.1f} V measured: "
    )
    if values["joint_ohms"] == 0:
        return start + "no more than the wire explains"
    return start + (
        f"{values['excess']:.1f} V too many, about {shown(values['joint_ohms'], 2)} Ω in a joint, which "
        f"turns {shown(values['joint_watts'], 2)} W to heat"
    )


@formula(
    title="Resistance hidden in a joint, from idle and running volts",
    working=_joint_working,
    source=f"Ohm's law over the expected drop; {_TABLE}",
    limits=(
        "Both voltages at the same two terminals, current read in the same run. The excess is everything "
        "between the source and the meter: joints, breaker, contactor, and a weak supply; halve the "
        f"circuit to find which. Three-phase: one joint in one line, power factor near one. {_NO_REACTANCE}"
    ),
)
def joint_resistance(
    idle_volts: Annotated[float, Input("V", "Voltage at the load, idle", least=1, most=1000)],
    running_volts: Annotated[float, Input("V", "Voltage at the load, running", least=0.1, most=1000)],
    amps: Annotated[float, Input("A", "Running current", least=0.01, most=400)],
    gauge: Annotated[float, GAUGE],
    run: Annotated[float, RUN],
    phase: Annotated[str, PHASE] = "single",
    temperature: Annotated[float, TEMPERATURE] = 75,
    strand: Annotated[str, STRAND] = "stranded",
) -> JointResistance:
    """Measured drop less the wire's own drop, over the current.

    In a three-phase circuit a joint in one line lowers the two pairs it belongs to by half of √3 times
    its own drop, so the excess is divided by that much less current.
    """
    expected = _drop(amps, run, gauge, phase, temperature, strand)
    measured = idle_volts - running_volts
    if measured < 0:
        raise FormulaError(
            f"The voltage rises from {shown(idle_volts)} V idle to {shown(running_volts)} V running: no "
            "wire or joint does that. Read both again at the same terminals; if it stays, look upstream."
        )
    excess = measured - expected
    ohms = max(0.0, excess) / (amps * _ways(phase) / 2)
    return JointResistance(expected, measured, excess, ohms, amps**2 * ohms)
