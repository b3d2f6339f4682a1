"""The motor, its capacitor and its brake."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown

SINGLE_PHASE_AMPS = {
    # hp: amperes at 115, 200, 208 and 230 V
    1 / 6: (4.4, 2.5, 2.4, 2.2),
    1 / 4: (5.8, 3.3, 3.2, 2.9),
    1 / 3: (7.2, 4.1, 4.0, 3.6),
    1 / 2: (9.8, 5.6, 5.4, 4.9),
    3 / 4: (13.8, 7.9, 7.6, 6.9),
    1: (16, 9.2, 8.8, 8.0),
    1.5: (20, 11.5, 11, 10),
    2: (24, 13.8, 13.2, 12),
    3: (34, 19.6, 18.7, 17),
    5: (56, 32.2, 30.8, 28),
    7.5: (80, 46, 44, 40),
    10: (100, 57.5, 55, 50),
}
"""NEC table 430.248."""

THREE_PHASE_AMPS = {
    # hp: amperes at 115, 200, 208, 230, 460 and 575 V
    1 / 2: (4.4, 2.5, 2.4, 2.2, 1.1, 0.9),
    3 / 4: (6.4, 3.7, 3.5, 3.2, 1.6, 1.3),
    1: (8.4, 4.8, 4.6, 4.2, 2.1, 1.7),
    1.5: (12.0, 6.9, 6.6, 6.0, 3.0, 2.4),
    2: (13.6, 7.8, 7.5, 6.8, 3.4, 2.7),
    3: (None, 11.0, 10.6, 9.6, 4.8, 3.9),
    5: (None, 17.5, 16.7, 15.2, 7.6, 6.1),
    7.5: (None, 25.3, 24.2, 22, 11, 9),
    10: (None, 32.2, 30.8, 28, 14, 11),
}
"""NEC table 430.250."""

VOLTAGE_RANGES = (
    (110, 120, 115),
    (200, 200, 200),
    (208, 208, 208),
    (220, 240, 230),
    (440, 480, 460),
    (550, 600, 575),
)
"""System voltages and the rated motor voltage whose column serves them, from the text of both tables."""

LOCKED_ROTOR = {
    "A": (0, 3.14),
    "B": (3.15, 3.54),
    "C": (3.55, 3.99),
    "D": (4.0, 4.49),
    "E": (4.5, 4.99),
    "F": (5.0, 5.59),
    "G": (5.6, 6.29),
    "H": (6.3, 7.09),
    "J": (7.1, 7.99),
    "K": (8.0, 8.99),
    "L": (9.0, 9.99),
    "M": (10.0, 11.19),
    "N": (11.2, 12.49),
    "P": (12.5, 13.99),
    "R": (14.0, 15.99),
    "S": (16.0, 17.99),
    "T": (18.0, 19.99),
    "U": (20.0, 22.39),
    "V": (22.4, None),
}
"""NEC table 430.7(B): kilovolt-amperes per horsepower with the rotor locked. V has no upper end."""

ZERO_RESISTANCE = {"copper": 234.5, "aluminium": 225.0}
"""Degrees below zero Celsius at which resistance, drawn as a straight line, would vanish (IEC 60034-1)."""

AMPS = Input("A", "Current, running", least=0.01, most=500)
PLATE_AMPS = Input("A", "Full-load current on the plate", least=0.05, most=500)
VOLTS = Input("V", "Voltage at the motor, running", least=12, most=1000)
PLATE_VOLTS = Input("V", "Voltage on the plate", least=12, most=1000)
HORSEPOWER = Input("hp", "Rated horsepower", least=0.1, most=10)
PHASE = Input("", "Phases", choices=("single", "three"))


class MotorLoad(NamedTuple):
    plate_share: Annotated[float, Output("percent", "Current over plate current")]
    load: Annotated[float, Output("percent", "Load over rated load")]
    verdict: Annotated[str, Output("", "overloaded, within rating, or light, a rough figure")]


def _load_verdict(load: float) -> str:
    return "overloaded" if load > 100 else "light, a rough figure" if load < 50 else "within rating"


@formula(
    title="Motor load from its current",
    working=(
        "{amps} A of {plate_amps} A ({plate_share} %) at {volts} of {plate_volts} V: load about {load} %: {verdict}"
    ),
    source=(
        "US Department of Energy, Determining Electric Motor Load and Efficiency: I/Ir × V/Vr; with the "
        "idle current, the energy handbooks' (2·loaded - idle)/(2·plate - idle)"
    ),
    limits=(
        "Induction motors. Below half load the current is mostly magnetising, and load by current reads too "
        "high; the idle current mends most of that. Not during starting, and not for a motor on a drive."
    ),
)
def motor_load_by_current(
    amps: Annotated[float, AMPS],
    plate_amps: Annotated[float, PLATE_AMPS],
    volts: Annotated[float, VOLTS],
    plate_volts: Annotated[float, PLATE_VOLTS],
    idle_amps: Annotated[float | None, Input("A", "Current with the load uncoupled", least=0, most=500)] = None,
) -> MotorLoad:
    """Current and voltage ratios, or, where the idle current is known, what is left of each above it."""
    if idle_amps is None:
        load = 100 * amps / plate_amps * volts / plate_volts
    elif idle_amps >= min(plate_amps, 2 * amps):
        raise FormulaError(
            f"An idle current of {shown(idle_amps)} A does not go with {shown(amps)} A loaded and "
            f"{shown(plate_amps)} A on the plate: the idle current must be the least of the three."
        )
    else:
        load = 100 * (2 * amps - idle_amps) / (2 * plate_amps - idle_amps)
    return MotorLoad(100 * amps / plate_amps, load, _load_verdict(load))


class MotorSlip(NamedTuple):
    slip: Annotated[float, Output("rpm", "Slip below synchronous speed")]
    load: Annotated[float, Output("percent", "Load over rated load")]
    verdict: Annotated[str, Output("", "overloaded, within rating, or light, a rough figure")]


@formula(
    title="Motor load from its slip",
    working="{rpm} rpm, plate {plate_rpm}, {poles} poles: slip {slip} rpm, load about {load} %: {verdict}",
    source=("US Department of Energy, Determining Electric Motor Load and Efficiency: slip/((Ss - Sr)·(Vr/V)²)"),
    limits="Induction motors. A plate speed may be 20 % off in slip, so the load is no better than that.",
)
def motor_load_by_slip(
    rpm: Annotated[float, Input("rpm", "Speed, running", least=100, most=4000)],
    plate_rpm: Annotated[float, Input("rpm", "Full-load speed on the plate", least=100, most=4000)],
    volts: Annotated[float, VOLTS],
    plate_volts: Annotated[float, PLATE_VOLTS],
    poles: Annotated[float, Input("count", "Poles", least=2, most=16, whole=True)] = 4,
    hertz: Annotated[float, Input("Hz", "Frequency", least=25, most=400)] = 60,
) -> MotorSlip:
    """Slip over rated slip, put right for voltage: slip grows as the voltage falls, by its square."""
    if poles % 2:
        raise FormulaError(f"A motor has an even number of poles; got {shown(poles)}.")
    synchronous = 120 * hertz / poles
    if not plate_rpm < synchronous:
        raise FormulaError(
            f"A plate speed of {shown(plate_rpm)} rpm is not below the {shown(synchronous)} rpm of "
            f"{shown(poles)} poles at {shown(hertz)} Hz: check the number of poles."
        )
    if rpm > synchronous:
        raise FormulaError(
            f"{shown(rpm)} rpm is above the synchronous {shown(synchronous)} rpm: the load is driving the motor."
        )
    slip = synchronous - rpm
    load = 100 * slip / ((synchronous - plate_rpm) * (plate_volts / volts) ** 2)
    return MotorSlip(slip, load, _load_verdict(load))


def _rated_voltage(volts: float) -> float:
    for low, high, rated in VOLTAGE_RANGES:
        if low <= volts <= high:
            return rated
    ranges = ", ".join(f"{low}" if low == high else f"{low} to {high}" for low, high, _ in VOLTAGE_RANGES)
    raise FormulaError(f"{shown(volts)} V is not a motor voltage of the tables: they serve {ranges} V.")


@formula(
    title="Full-load current of a motor from the code's tables",
    working="{hp} hp, {volts} V, {phase}-phase: {amps} A by the table",
    source="NEC tables 430.248 (single-phase) and 430.250 (three-phase induction)",
    limits=(
        "For sizing the circuit, 430.6(A)(1); the overload and every judgement of this motor go by its own "
        "plate. Ordinary speeds and torques. Only the powers and voltages in the tables."
    ),
)
def full_load_amps(
    hp: Annotated[float, HORSEPOWER],
    volts: Annotated[float, Input("V", "System or rated voltage", least=100, most=600)],
    phase: Annotated[str, PHASE] = "single",
) -> Annotated[float, Output("A", "Full-load current", "amps")]:
    """The table's figure; nothing between its rows."""
    table: dict[float, tuple[float | None, ...]] = dict(SINGLE_PHASE_AMPS if phase == "single" else THREE_PHASE_AMPS)
    columns = (115, 200, 208, 230) if phase == "single" else (115, 200, 208, 230, 460, 575)
    power = min(table, key=lambda each: abs(each - hp))
    if abs(power - hp) > 0.02 * power:  # .33 for a third, .17 for a sixth
        known = ", ".join(shown(each, 3) for each in table)
        raise FormulaError(f"The {phase}-phase table has no {shown(hp)} hp: it has {known} hp.")
    rated = _rated_voltage(volts)
    amps = table[power][columns.index(int(rated))] if rated in columns else None
    if amps is None:
        raise FormulaError(f"The {phase}-phase table has no {shown(hp)} hp at {shown(volts)} V.")
    return float(amps)


class LockedRotorAmps(NamedTuple):
    low: Annotated[float, Output("A", "Least locked-rotor current")]
    high: Annotated[float | str, Output("A", "Greatest locked-rotor current")]


@formula(
    title="Locked-rotor current from the code letter",
    working="{hp} hp, {volts} V {phase}-phase, letter {letter}: {low} to {high} A with the rotor locked",
    source="NEC table 430.7(B), kVA per horsepower",
    limits=(
        "The code letter, not the design letter. At rated voltage; it falls about as the voltage does. I, "
        "O, Q are unused."
    ),
)
def locked_rotor_amps(
    hp: Annotated[float, Input("hp", "Rated horsepower", least=0.1, most=500)],
    volts: Annotated[float, Input("V", "Rated voltage", least=100, most=600)],
    letter: Annotated[str, Input("", "Code letter on the plate", choices=tuple(LOCKED_ROTOR))],
    phase: Annotated[str, PHASE] = "single",
) -> LockedRotorAmps:
    """Horsepower times the letter's kVA, over the voltage, and over √3 for three phases."""
    low, high = LOCKED_ROTOR[letter]
    per_kva = 1000 * hp / (volts * (math.sqrt(3) if phase == "three" else 1))
    return LockedRotorAmps(low * per_kva, "no upper limit" if high is None else high * per_kva)


class OverloadSetting(NamedTuple):
    amps: Annotated[float, Output("A", "Highest setting")]
    percent: Annotated[float, Output("percent", "Of plate current")]


@formula(
    title="Highest overload setting for a motor",
    working=("{plate_amps} A, service factor {service_factor}: set at most {amps} A ({percent} %)"),
    source="NEC 430.32(A)(1): 125 % at service factor 1.15 or rise 40 °C or less, otherwise 115 %",
    limits=(
        "Separate overload, motor above 1 hp in the code's words. Plate current, never the table's. The "
        "maker's setting goes first."
    ),
)
def overload_setting(
    plate_amps: Annotated[float, PLATE_AMPS],
    service_factor: Annotated[float, Input("", "Service factor on the plate", least=1, most=2)] = 1,
    rise: Annotated[float | None, Input("degC", "Temperature rise on the plate", least=1, most=200)] = None,
) -> OverloadSetting:
    """125 or 115 percent of plate current."""
    percent = 125.0 if service_factor >= 1.15 or (rise is not None and rise <= 40) else 115.0
    return OverloadSetting(plate_amps * percent / 100, percent)


class WindingTemperature(NamedTuple):
    temperature: Annotated[float, Output("degC", "Winding temperature, mean")]
    rise: Annotated[float, Output("degC", "Rise above cold")]


@formula(
    title="Temperature of a winding from its resistance",
    working="{cold_ohms} Ω at {cold_temperature} °C, {hot_ohms} Ω hot: {temperature} °C, {rise} °C of rise",
    source="IEC 60034-1, rise by resistance: (R2/R1)(234.5 + T1) - 234.5 for copper, 225 for aluminium",
    limits=(
        "Off, locked and tagged, capacitor discharged, meter leads' own resistance taken off. A mean: the "
        "hottest spot is hotter by 10 °C or so. Read within half a minute of stopping."
    ),
)
def winding_temperature(
    cold_ohms: Annotated[float, Input("ohm", "Resistance cold", least=0.001, most=100_000)],
    cold_temperature: Annotated[float, Input("degC", "Temperature when cold", least=-50, most=80)],
    hot_ohms: Annotated[float, Input("ohm", "Resistance hot", least=0.001, most=100_000)],
    metal: Annotated[str, Input("", "Winding", choices=("copper", "aluminium"))] = "copper",
) -> WindingTemperature:
    """Resistance of a metal is a straight line that would vanish 234.5 °C below zero for copper."""
    zero = ZERO_RESISTANCE[metal]
    temperature = hot_ohms / cold_ohms * (zero + cold_temperature) - zero
    if not -60 <= temperature <= 400:
        raise FormulaError(
            f"{shown(cold_ohms)} Ω cold and {shown(hot_ohms)} Ω hot would mean {shown(temperature)} °C: the "
            "winding is open, shorted, or not the same pair was read."
        )
    return WindingTemperature(temperature, temperature - cold_temperature)


@formula(
    title="Capacitance from volts and amps",
    working="{amps} A at {volts} V, {hertz} Hz: {microfarads} µF",
    source="Reactance of a capacitor, C = I/(2πfV)",
    limits=(
        "Measured live by a qualified person, clamp and covers as for any live work; the voltage is across "
        "the capacitor itself and well above the supply. Otherwise isolate, discharge and use a capacitance "
        "meter."
    ),
)
def capacitor_value(
    volts: Annotated[float, Input("V", "Voltage across the capacitor, running", least=10, most=1000)],
    amps: Annotated[float, Input("A", "Current through it", least=0.01, most=200)],
    hertz: Annotated[float, Input("Hz", "Frequency", least=25, most=400)] = 60,
) -> Annotated[float, Output("uF", "Capacitance", "microfarads")]:
    """A million times the current, over 2π times frequency and voltage: 2652.58·I/V at 60 Hz."""
    return 1e6 * amps / (math.tau * hertz * volts)


class CapacitorCheck(NamedTuple):
    percent: Annotated[float, Output("percent", "Away from the label, or from the nearer end of its range")]
    low: Annotated[float, Output("uF", "Least that is good")]
    high: Annotated[float, Output("uF", "Most that is good")]
    verdict: Annotated[str, Output("", "good, weak, high, or open")]


@formula(
    title="Is a capacitor within its label",
    working="{microfarads} µF measured, good is {low} to {high} µF: {verdict} ({percent} %)",
    source="The label. Run capacitors carry ±5 to ±10 %, start capacitors a printed range (from memory)",
    limits=(
        "Isolated, locked and tagged, discharged through a resistor, one lead off. The label's tolerance, "
        "not the 10 % here."
    ),
)
def capacitor_check(
    microfarads: Annotated[float, Input("uF", "Capacitance measured", least=0, most=5000)],
    rated: Annotated[float, Input("uF", "On the label, or the low end of a printed range", least=0.1, most=5000)],
    rated_high: Annotated[float | None, Input("uF", "High end of a printed range", least=0.1, most=5000)] = None,
    tolerance: Annotated[float, Input("percent", "Tolerance on the label", least=1, most=50)] = 10,
) -> CapacitorCheck:
    """Against the rated value and its tolerance, or against the printed range alone."""
    if rated_high is None:
        low, high = rated * (1 - tolerance / 100), rated * (1 + tolerance / 100)
        nearer = rated
    else:
        if rated_high < rated:
            raise FormulaError(f"The range runs backwards: {shown(rated)} to {shown(rated_high)} µF.")
        low, high = rated, rated_high
        nearer = min(max(microfarads, low), high)
    if microfarads < 0.02 * low:
        verdict = "open"
    elif microfarads < low * (1 - 1e-9):
        verdict = "weak"
    else:
        verdict = "good" if microfarads <= high * (1 + 1e-9) else "high"
    return CapacitorCheck(100 * (microfarads - nearer) / nearer, low, high, verdict)


class BrakeCoil(NamedTuple):
    ohms: Annotated[float, Output("ohm", "Resistance it should have, cold")]
    amps: Annotated[float, Output("A", "Current it should draw")]
    verdict: Annotated[str, Output("", "as expected, low, high, open, or not measured")]


def _brake_working(values: Mapping[str, Any]) -> str:
    measured = values["measured"]
    read = "" if measured is None else f", {shown(measured)} Ω measured: {values['verdict']}"
    return (
        f"{shown(values['volts'])} V DC, {shown(values['watts'])} W: {shown(values['ohms'])} Ω, "
        f"{shown(values['amps'])} A{read}"
    )


@formula(
    title="Resistance of a DC brake coil",
    working=_brake_working,
    source=("Ohm's law, R = V²/P. The bands, 10 % below and 40 % above (a coil 100 °C warmer), are an estimate"),
    limits=(
        "DC coils only: an AC coil is limited by impedance, and its ohms tell only open or short. Off, "
        "locked and tagged, the door held: releasing a brake can let a door run."
    ),
)
def brake_coil(
    volts: Annotated[float, Input("V", "Coil voltage, DC", least=1, most=600)],
    watts: Annotated[float, Input("W", "Coil power on its label", least=0.1, most=2000)],
    measured: Annotated[float | None, Input("ohm", "Resistance measured", least=0, most=1e8)] = None,
) -> BrakeCoil:
    """Voltage squared over power; low means shorted turns, high a bad joint, and no reading an open coil."""
    ohms = volts**2 / watts
    if measured is None:
        verdict = "not measured"
    elif measured > 20 * ohms:
        verdict = "open"
    elif measured > 1.4 * ohms:
        verdict = "high"
    else:
        verdict = "low" if measured < 0.9 * ohms else "as expected"
    return BrakeCoil(ohms, watts / volts, verdict)


class Duty(NamedTuple):
    percent: Annotated[float, Output("percent", "Duty")]
    rest: Annotated[float, Output("s", "Rest in each cycle")]
    verdict: Annotated[str, Output("", "within rating, over rating, or no rating given")]


@formula(
    title="Duty of a motor against cycles an hour",
    working="{cycles} cycles an hour of {running} s: {percent} % duty, {rest} s of rest each: {verdict}",
    source="Running time over the hour; duty types are those of IEC 60034-1",
    limits="Even over the hour. Starts heat a motor besides: many short runs are worse than the figure.",
)
def duty(
    cycles: Annotated[float, Input("count", "Cycles an hour", least=0, most=1000)],
    running: Annotated[float, Input("s", "Running time a cycle, open and close", least=0.1, most=3600)],
    rated: Annotated[float | None, Input("percent", "Rated duty", least=1, most=100)] = None,
) -> Duty:
    """Running seconds over 3600."""
    percent = 100 * cycles * running / 3600
    if percent > 100:
        raise FormulaError(
            f"{shown(cycles)} cycles of {shown(running)} s are more than an hour: check the count and the running time."
        )
    rest = 3600 / cycles - running if cycles else 3600.0
    verdict = "no rating given"
    if rated is not None:
        verdict = "within rating" if percent <= rated else "over rating"
    return Duty(percent, rest, verdict)


@formula(
    title="Heating current over a cycle",
    working="{currents} A for {times} s in {period} s: heats like {amps} A",
    source="Root of the mean square over the cycle",
    limits=(
        "Cycles short against the motor's heating time, some minutes. A stopped motor cools worse than a running one."
    ),
)
def rms_current(
    currents: Annotated[Sequence[float], Input("A", "Current in each stretch", many=True, least=0, most=1000)],
    times: Annotated[Sequence[float], Input("s", "Length of each stretch", many=True, least=0, most=86_400)],
    period: Annotated[float, Input("s", "Whole cycle, rest included", least=0.01, most=86_400)],
) -> Annotated[float, Output("A", "Steady current that heats as much", "amps")]:
    """Root of the sum of squares times seconds, over the period."""
    if len(currents) != len(times):
        raise FormulaError(f"Each current needs one time: there are {len(currents)} and {len(times)}.")
    if sum(times) > period * (1 + 1e-9):
        raise FormulaError(f"The stretches take {shown(sum(times))} s, more than the cycle of {shown(period)} s.")
    return math.sqrt(sum(amps**2 * seconds for amps, seconds in zip(currents, times, strict=True)) / period)
