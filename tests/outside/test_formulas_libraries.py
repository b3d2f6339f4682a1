"""The formulas against general-purpose libraries: run here, not quoted.

Where the table of checks quotes a library, the same figure is got from the library again.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import constants, integrate, optimize, stats

from diagnose.formulas import find
from diagnose.formulas.counterbalance import balance_force, spring_bending_factor, spring_energy, spring_rate
from diagnose.formulas.door import timer_close_time
from diagnose.formulas.drive import (
    CHAINS,
    chain_length,
    chain_sag,
    chain_tension,
    drum_travel_time,
    drum_turns,
    sag_from_slack,
    slack_from_sag,
    sprocket_pitch_diameter,
)
from diagnose.formulas.limits import _power, best_step, linear_trend, readings_needed
from diagnose.formulas.motor import capacitor_value, duty, rms_current
from diagnose.formulas.radio import dbm_to_milliwatts, free_space_loss, milliwatts_to_dbm
from diagnose.formulas.registry import all_formulas
from diagnose.formulas.supply import open_conductor, voltage_unbalance
from diagnose.formulas.wire import wire_size

sys.path.insert(0, str(Path(__file__).parents[1] / "formulas"))
from formula_checks import CATENARY, CHECKS, JUMP, NCT, NILE_FLOWS, SLIP, STILL

fluids = pytest.importorskip("fluids", reason="fluids is in the test extra")
pint = pytest.importorskip("pint")
ureg = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


# ---- wire: fluids --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gauge", range(37))
def test_diameters_agree_with_the_wire_gauge_table_of_fluids(gauge: int) -> None:
    table = fluids.piping.t_from_gauge(gauge, SI=True, schedule="AWG")
    assert wire_size(gauge).diameter_mm == pytest.approx(table * 1000, rel=5e-3)  # the table has 3 or 4 figures


# ---- units: pint ---------------------------------------------------------------------------------------------


def test_every_unit_is_one_pint_knows_or_a_count_of_the_trade() -> None:
    own = {"", "AWG", "links", "cmil"}
    for unit in {part.unit for each in all_formulas() for part in (*each.inputs, *each.outputs)} - own:
        assert ureg.parse_units(unit.replace("kft", "kilofoot")), unit


@pytest.mark.parametrize(("rpm", "reduction", "diameter"), [(1800, 60, 5.5), (36, 1, 4), (1725, 57.5, 6)])
def test_drum_speed_in_pint(rpm: float, reduction: float, diameter: float) -> None:
    speed = (rpm / reduction * ureg.turn / ureg.min) * (diameter / 2 * ureg.inch) / ureg.radian
    assert drum_travel_time(rpm, reduction, diameter, 84).speed == pytest.approx(speed.m_as("inch/s"))


def test_drum_turns_in_pint() -> None:
    turns = (84 * ureg.inch / (2 * ureg.inch) * ureg.radian).m_as("turn")
    assert drum_turns(84, 4).turns == pytest.approx(turns)


@pytest.mark.parametrize("level", [-80, -67, 0, 3, 20, 30])
def test_decibels_in_pint(level: float) -> None:
    power = ureg.Quantity(level, "dBm").to("mW").magnitude
    assert dbm_to_milliwatts(level) == pytest.approx(power)
    assert milliwatts_to_dbm(power) == pytest.approx(level, abs=1e-9)


def test_duty_and_times_in_pint() -> None:
    for cycles, running in ((20, 24), (12, 45)):
        found = duty(cycles, running)
        assert found.percent == pytest.approx((cycles / ureg.hour * running * ureg.second).m_as("percent"))
        assert found.rest == pytest.approx((ureg.hour / cycles - running * ureg.second).m_as("second"))
    travel, speed = (12 * ureg.foot).m_as("inch"), (60 * ureg.foot / ureg.min).m_as("inch/s")
    assert timer_close_time(60, travel, speed).total == pytest.approx(72)


def test_capacitance_in_pint() -> None:
    farads = 10 * ureg.ampere / (2 * math.pi * 60 * ureg.hertz * 120 * ureg.volt)
    assert capacitor_value(120, 10) == pytest.approx(farads.m_as("microfarad"))


# ---- chain: exact curves and exact geometry ------------------------------------------------------------------


def _catenary(span: float, sag: float) -> tuple[float, float]:
    """Horizontal tension per unit weight, and slack, of a level catenary: the span's own unit."""
    parameter = optimize.brentq(lambda a: a * (math.cosh(span / 2 / a) - 1) - sag, span / 20, 1e5 * span)
    return parameter, 2 * parameter * math.sinh(span / 2 / parameter) - span


@pytest.mark.parametrize("share", [0.01, 0.025, 0.05, 0.1])
@pytest.mark.parametrize("span", [4.0, 10.0, 20.0])
def test_sag_and_slack_against_the_exact_catenary(span: float, share: float) -> None:
    """Within 1 % in tension, as the limits say; twice that in slack, which goes with the square."""
    sag = share * span
    tension, slack = _catenary(span, sag)
    assert chain_tension(0.5, span, 12 * sag).tension == pytest.approx(0.5 * tension, rel=0.0135)
    assert slack_from_sag(span, 12 * sag) == pytest.approx(12 * slack, rel=0.02)
    assert sag_from_slack(span, 12 * slack).sag == pytest.approx(12 * sag, rel=0.01)


def test_the_table_quotes_the_catenary_rightly() -> None:
    rows = [check for check in CHECKS if check.source == CATENARY]
    assert len(rows) >= 8
    for check in rows:
        inputs, span = dict(check.inputs), check.inputs["span"]
        if check.formula == "chain-tension":
            exact = inputs["weight"] * _catenary(span, inputs["sag"] / 12)[0]
        elif check.formula == "slack-from-sag":
            exact = 12 * _catenary(span, inputs["sag"] / 12)[1]
        elif check.formula == "chain-sag":
            assert inputs["weight"] * _catenary(span, float(check.expected) / 12)[0] == pytest.approx(
                inputs["tension"], rel=1e-3
            )
            continue
        else:
            assert 12 * _catenary(span, float(check.expected) / 12)[1] == pytest.approx(inputs["slack"], rel=1e-3)
            continue
        assert check.expected == pytest.approx(exact, rel=1e-4)


def test_tension_by_its_own_weight_holds_up_in_chain_sag() -> None:
    tension, _ = _catenary(10, 0.25)
    assert chain_sag(0.42, 10, 0.42 * tension).sag == pytest.approx(3.0, rel=0.005)


@pytest.mark.parametrize(
    ("centres", "chain", "large", "small"), [(20, 40, 32, 15), (30, 41, 48, 12), (15, 50, 24, 17), (40, 35, 60, 9)]
)
def test_chain_length_against_exact_tangents(centres: float, chain: int, large: int, small: int) -> None:
    """Two straight tangents of the pitch circles and the teeth each sprocket has in mesh."""
    pitch = CHAINS[chain].pitch
    outer, inner = (sprocket_pitch_diameter(chain, teeth) / 2 for teeth in (large, small))
    slant = math.asin((outer - inner) / centres)
    straight = 2 * centres * math.cos(slant) / pitch
    exact = straight + large * (0.5 + slant / math.pi) + small * (0.5 - slant / math.pi)
    assert chain_length(centres, chain, large, small).pitches == pytest.approx(exact, abs=0.05)


# ---- counterbalance: energy and curved beams -----------------------------------------------------------------


@pytest.mark.parametrize("at", [0.5, 21, 42, 63, 83.5])
def test_hand_force_is_the_slope_of_the_energy(at: float) -> None:
    weight, radius, height, rate, turns = 200, 2, 84, 57.142857, 7

    def energy(where: np.ndarray) -> float:
        lifted = weight * (where[0] - where[0] ** 2 / (2 * height))
        left = turns - where[0] / (2 * math.pi * radius)
        return float(lifted + math.pi * rate * left**2)

    slope = optimize.approx_fprime(np.array([at]), energy, 1e-6)[0]
    force = balance_force(weight, 2 * radius, height, rate, turns, at).force
    assert force == pytest.approx(slope, abs=2e-3)


@pytest.mark.parametrize(("rate", "turns"), [(57.142857, 7), (45.814, 7.5)])
def test_stored_energy_is_the_integral_of_the_torque(rate: float, turns: float) -> None:
    energy, _ = integrate.quad(lambda angle: rate * angle / (2 * math.pi), 0, turns * 2 * math.pi)
    found = spring_energy(rate, turns)
    assert found.energy == pytest.approx(energy)
    assert found.joules == pytest.approx(energy * constants.inch * constants.lbf)
    assert found.joules == pytest.approx((energy * ureg.inch * ureg.lbf).m_as("joule"))


@pytest.mark.parametrize("index", [4, 6, 8, 9, 12])
def test_bending_factor_against_curved_beam_theory(index: float) -> None:
    """Winkler and Bach: the neutral axis of a round section lies at (R + √(R² - c²))/2."""
    wire, centre, half = 1.0, index / 2, 0.5
    neutral = (centre + math.sqrt(centre**2 - half**2)) / 2
    inside = centre - half
    stress = (neutral - inside) / (math.pi / 4 * (centre - neutral) * inside)
    assert spring_bending_factor(wire, index * wire) == pytest.approx(stress / (32 / math.pi), rel=1e-3)


def test_spring_theory_is_beam_theory() -> None:
    """A coil of wire bent by a torque turns through torque × wire length/(E·I)."""
    wire, mean, coils, modulus = 0.25, 2.25, 100, 28.5e6
    inertia = math.pi * wire**4 / 64
    per_radian = modulus * inertia / (math.pi * mean * coils)
    assert spring_rate(wire, mean, coils, modulus).theory == pytest.approx(per_radian * 2 * math.pi)


# ---- motor and supply ----------------------------------------------------------------------------------------


def test_rms_against_a_sampled_waveform() -> None:
    sampled = np.concatenate([np.full(50, 30.0), np.full(1150, 6.0), np.zeros(4800)])
    assert rms_current((30, 6), (0.5, 11.5), 60) == pytest.approx(float(np.sqrt(np.mean(sampled**2))))
    square = np.concatenate([np.full(400, 5.0), np.full(400, 2.0)])
    assert rms_current((5, 2), (0.04, 0.04), 0.08) == pytest.approx(float(np.sqrt(np.mean(square**2))))


def test_unbalance_against_numpy() -> None:
    readings = np.array([203.0, 210.0, 212.0])
    spread = np.abs(readings - readings.mean()).max() / readings.mean()
    assert voltage_unbalance(*readings).percent == pytest.approx(100 * spread)


def _single_phased(ratio: complex) -> tuple[float, float, float]:
    """Line voltages L1-L2, L2-L3, L3-L1 of a running motor with L1 open, as shares of the supply.

    With L1 open the positive and negative sequence currents are equal and opposite, so the sequence voltages
    are as the impedances; `ratio` is negative over positive sequence impedance.
    """
    turn = np.exp(2j * np.pi / 3)
    positive, negative = 1.0, -ratio
    phases = [positive + negative, turn**2 * positive + turn * negative, turn * positive + turn**2 * negative]
    lines = np.abs([phases[0] - phases[1], phases[1] - phases[2], phases[2] - phases[0]])
    return tuple(lines / lines[1])


@pytest.mark.parametrize("size", [0.08, 0.1, 0.15, 0.2, 0.3])
@pytest.mark.parametrize("angle", [-20, 0, 20])
def test_the_open_line_of_a_running_motor_by_symmetrical_components(size: float, angle: float) -> None:
    pairs = _single_phased(size * np.exp(1j * np.radians(angle)))
    volts = [480 * pair for pair in pairs]
    assert open_conductor(*volts, nominal=480, motor="running").open in {"L1", "cannot tell"}
    if size >= 0.1 and angle == 0:
        assert open_conductor(*volts, nominal=480, motor="running").open == "L1"


@pytest.mark.parametrize("size", [0.03, 0.04, 0.055])
def test_a_motor_that_holds_its_open_line_well_up_is_never_called_whole(size: float) -> None:
    """A ratio of 0.055 leaves the open line's pairs at 92 % of the supply, as the trade's figure has it."""
    volts = [480 * pair for pair in _single_phased(size)]
    if size == 0.055:
        assert volts[0] / 480 == pytest.approx(0.92, abs=0.005)
    assert open_conductor(*volts, nominal=480, motor="running").open in {"L1", "cannot tell"}


def test_free_space_loss_from_the_speed_of_light() -> None:
    wavelength = constants.speed_of_light / 2437e6
    assert free_space_loss(2437, 10) == pytest.approx(20 * math.log10(4 * math.pi * 10 / wavelength))


# ---- limits: scipy.stats and numpy ---------------------------------------------------------------------------


def _certified_norris() -> tuple[list[float], list[float]]:
    import scipy.stats

    path = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_linregress" / "Norris.dat"
    if not path.exists():
        pytest.skip("this build of SciPy comes without its test data")
    rows = [line.split() for line in path.read_text().splitlines()[60:] if line.strip()]
    return [float(row[1]) for row in rows], [float(row[0]) for row in rows]


def test_the_certified_norris_data_as_scipy_carries_it() -> None:
    x, y = _certified_norris()
    assert len(x) == 36
    line = linear_trend(x, y)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope_error == pytest.approx(0.429796848199937e-3, rel=1e-12)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-12)
    row = next(check for check in CHECKS if check.formula == "linear-trend")
    assert sorted(row.inputs["x"]) == sorted(x), "the table's copy of the data is the certified data"
    assert sorted(row.inputs["y"]) == sorted(y)


@pytest.mark.parametrize("stops", [SLIP, JUMP, STILL, NILE_FLOWS])
def test_regression_against_scipy(stops: tuple[float, ...]) -> None:
    cycles = np.arange(1, len(stops) + 1)
    theirs = stats.linregress(cycles, stops)
    found = find("stop-drift").evaluate({"stops": stops, "step": 1e-4}).values
    assert found["slope"] == pytest.approx(theirs.slope, rel=1e-9)
    assert found["slope_error"] == pytest.approx(theirs.stderr, rel=1e-9)
    assert found["p"] == pytest.approx(theirs.pvalue, rel=1e-6)


@pytest.mark.parametrize("stops", [SLIP, JUMP, STILL, NILE_FLOWS])
def test_best_step_against_trying_every_place_in_numpy(stops: tuple[float, ...]) -> None:
    values = np.array(stops)
    tried = {
        place: float(
            ((values[:place] - values[:place].mean()) ** 2).sum()
            + ((values[place:] - values[place:].mean()) ** 2).sum()
        )
        for place in range(2, len(values) - 1)
    }
    found = best_step(stops)
    assert found.after == min(tried, key=tried.__getitem__)
    assert found.sse == pytest.approx(min(tried.values()))
    assert found.median_step == pytest.approx(float(np.median(np.diff(values))))
    split = int(found.after)
    theirs = stats.ttest_ind(values[split:], values[:split])
    assert found.p == pytest.approx(min(1, len(tried) * theirs.pvalue), rel=1e-6)


def _power_by_scipy(slip: float, scatter: float, count: int) -> float:
    centre = slip * math.sqrt(count * (count**2 - 1) / 12) / scatter
    bound = stats.t.ppf(0.975, count - 2)
    return float(stats.nct.sf(bound, count - 2, centre) + stats.nct.cdf(-bound, count - 2, centre))


@pytest.mark.parametrize(("scatter", "slip"), [(0.05, 0.05), (0.05, 0.02), (0.05, 0.005), (0.2, 0.05)])
def test_readings_needed_against_the_non_central_t(scatter: float, slip: float) -> None:
    found = readings_needed(scatter, slip)
    count = int(found.readings)
    assert found.power == pytest.approx(100 * _power_by_scipy(slip, scatter, count), rel=1e-6)
    assert _power_by_scipy(slip, scatter, count) >= 0.8 > _power_by_scipy(slip, scatter, count - 1)


def test_the_table_quotes_the_non_central_t_rightly() -> None:
    rows = [check for check in CHECKS if check.source == NCT]
    assert len(rows) >= 3
    for check in rows:
        theirs = _power_by_scipy(check.inputs["slip"], check.inputs["scatter"], 6)
        if check.output == "power":
            assert check.expected == pytest.approx(100 * theirs, abs=1e-3)
        else:
            count = int(check.expected)
            before, after = (
                _power_by_scipy(check.inputs["slip"], check.inputs["scatter"], n) for n in (count - 1, count)
            )
            assert before < 0.8 <= after


def test_power_is_what_a_simulation_finds() -> None:
    chance = np.random.default_rng(5)
    count, slip, scatter = 9, 0.02, 0.05
    cycles = np.arange(count)
    shown = [
        stats.linregress(cycles, slip * cycles + chance.normal(0, scatter, count)).pvalue < 0.05 for _ in range(1500)
    ]
    assert np.mean(shown) == pytest.approx(_power(slip, scatter, count), abs=0.04)  # three standard errors


def test_balance_against_solving_the_two_pulls_in_numpy() -> None:
    up, down = np.array([12.0, 9.746, 7.493, 5.239, 2.986]), np.array([-12.0, -14.254, -16.507, -18.761, -21.014])
    solved = np.linalg.solve(np.array([[1.0, 1.0], [1.0, -1.0]]), np.array([up, down]))
    heights = np.array([0, 21, 42, 63, 84])
    slope = np.polyfit(heights / 12, solved[0], 1)[0]
    found = find("door-balance").evaluate({"heights": list(heights), "up": list(up), "down": list(down)}).values
    assert found["worst"] == pytest.approx(solved[0][np.abs(solved[0]).argmax()])
    assert found["friction"] == pytest.approx(solved[1].mean())
    assert found["trend"] == pytest.approx(slope)
