"""What the formulas refuse beyond plain limits, what they make of awkward cases, and what they never say."""

from __future__ import annotations

import random
from typing import Any

import pytest

from diagnose.formulas import FormulaError, all_formulas, find
from diagnose.formulas.limits import stop_drift

REFUSED: list[tuple[str, dict[str, Any], str]] = [
    (
        "open-conductor",
        {"volts_12": 480, "volts_23": 460, "volts_31": 460, "nominal": 480, "motor": "running", "amps_1": 5},
        "give three or none",
    ),
    ("voltage-drop", {"volts": 12, "amps": 20, "run": 200, "gauge": 22}, "20 A cannot flow"),
    ("smallest-gauge", {"volts": 12, "amps": 100, "run": 1000}, "Not even 1/0 AWG"),
    (
        "joint-resistance",
        {"idle_volts": 110, "running_volts": 118, "amps": 6, "gauge": 14, "run": 90},
        "The voltage rises from 110 V idle to 118 V running",
    ),
    ("supply-band", {"nominal": 230, "volts": 230}, "must be one of 120, 208, 240, 277, 480, 600 V"),
    ("voltage-unbalance", {"volts_12": 0, "volts_23": 0, "volts_31": 0}, "no supply to judge"),
    (
        "motor-load-by-current",
        {"amps": 4, "plate_amps": 5, "volts": 230, "plate_volts": 230, "idle_amps": 9},
        "the idle current must be the least",
    ),
    (
        "motor-load-by-slip",
        {"rpm": 1750, "plate_rpm": 1725, "volts": 230, "plate_volts": 230, "poles": 3},
        "even number",
    ),
    (
        "motor-load-by-slip",
        {"rpm": 1150, "plate_rpm": 1725, "volts": 230, "plate_volts": 230, "poles": 6},
        "check the number",
    ),
    (
        "motor-load-by-slip",
        {"rpm": 1810, "plate_rpm": 1725, "volts": 230, "plate_volts": 230},
        "the load is driving the motor",
    ),
    ("full-load-amps", {"hp": 0.6, "volts": 120}, "no 0.6 hp: it has .*0.5, 0.75"),
    ("full-load-amps", {"hp": 1, "volts": 300}, "serve 110 to 120"),
    ("full-load-amps", {"hp": 1, "volts": 480}, "single-phase table has no 1 hp at 480 V"),
    ("full-load-amps", {"hp": 5, "volts": 120, "phase": "three"}, "no 5 hp at 120 V"),
    (
        "winding-temperature",
        {"cold_ohms": 2, "cold_temperature": 20, "hot_ohms": 20},
        "open, shorted, or not the same pair",
    ),
    ("capacitor-check", {"microfarads": 100, "rated": 193, "rated_high": 161}, "runs backwards"),
    ("duty", {"cycles": 200, "running": 30}, "more than an hour"),
    ("rms-current", {"currents": (1, 2), "times": (5,), "period": 60}, "needs one time"),
    ("rms-current", {"currents": (1, 2), "times": (40, 30), "period": 60}, "more than the cycle"),
    ("chain-data", {"chain": 42}, "Chain number is 42: it must be one of 25, 35, 40, 41, 50, 60, 80"),
    ("chain-length", {"centres": 2, "chain": 40, "large": 32, "small": 15}, "would touch"),
    ("chain-tension", {"weight": 0.4, "span": 10, "sag": 20}, "the chain is slack"),
    ("chain-sag", {"weight": 0.4, "span": 10, "tension": 1}, "no longer holds"),
    ("sag-from-slack", {"span": 2, "slack": 5}, "too slack"),
    ("slack-from-sag", {"span": 2, "sag": 10}, "no longer holds"),
    ("chain-wear", {"chain": 40, "pitches": 12, "length": 5.5}, "count the pitches"),
    ("chain-wear", {"chain": 40, "pitches": 12, "length": 7.5}, "count the pitches"),
    ("door-balance", {"heights": (0, 40), "up": (10, 10), "down": (-10,)}, "2 heights, 2 up, 1 down"),
    ("door-balance", {"heights": (40, 40), "up": (10, 10), "down": (-10, -10)}, "two different heights"),
    ("door-balance", {"heights": (0, 40), "up": (10, 10), "down": (-10, 12)}, "At 40 in the pull up is less"),
    (
        "balance-force",
        {"door_weight": 200, "diameter": 4, "height": 84, "rate": 57, "turns": 7, "at_height": 90},
        "cannot be 90 in up on a 84 in door",
    ),
    ("spring-rate", {"wire": 0.5, "mean": 1, "coils": 10}, "spring index of 2: it must be 3 to 40"),
    ("linear-trend", {"x": (1, 2), "y": (1, 2)}, "3 pairs"),
    ("linear-trend", {"x": (1, 2, 3), "y": (1, 2)}, "needs one y"),
    ("linear-trend", {"x": (2, 2, 2), "y": (1, 2, 3)}, "All the x are the same"),
    ("linear-trend", {"x": (1, 2, 3), "y": (1, 2, 3)}, "exactly on a line"),
    ("best-step", {"stops": (1, 2, 3)}, "4 readings or more"),
    ("readings-needed", {"scatter": 50, "slip": 1e-6}, "More than 500 readings"),
    ("stop-drift", {"stops": (1, 2, 3, 4)}, "Five stops or more"),
    ("stop-drift", {"stops": (1, 2, 3, 4, 5), "temperatures": (20, 21)}, "needs one temperature"),
    ("beam-angle", {"span": 1, "offset": 13}, "more than 45°"),
    ("far-end-volts", {"near_volts": 12, "gauge": 22, "run": 500, "amps": 5}, "5 A cannot flow through this loop"),
    ("longest-loop-run", {"near_volts": 12, "needed_volts": 12, "gauge": 22, "amps": 0.1}, "nothing to spare"),
    ("free-space-loss", {"megahertz": 300, "metres": 0.1}, "within a sixth of a wavelength"),
    ("site-loss", {"megahertz": 2437, "metres": 50, "site": "office in sight"}, "must be 2 to 27 m"),
    ("channel-centre", {"channel": 15}, "channels 1 to 14"),
    ("channel-centre", {"channel": 6, "band": "5"}, "channels 32 to 177"),
    ("cycles-per-day", {"first": 900, "last": 100, "days": 10}, "the counter was reset"),
    ("links-to-remove", {"slack": 1, "chain": 40, "take_up_left": 1, "step": 3}, "it must be one of 1, 2 links"),
]


@pytest.mark.parametrize(("name", "values", "says"), REFUSED, ids=lambda each: each if isinstance(each, str) else "")
def test_values_that_contradict_one_another_are_refused_in_a_sentence(
    name: str, values: dict[str, Any], says: str
) -> None:
    with pytest.raises(FormulaError, match=says):
        find(name).evaluate(values)


WORDS: list[tuple[str, dict[str, Any], str, str]] = [
    ("open-conductor", {"volts_12": 0, "volts_23": 5, "volts_31": 3, "nominal": 208}, "open", "cannot tell"),
    ("open-conductor", {"volts_12": 208, "volts_23": 208, "volts_31": 0, "nominal": 208}, "open", "cannot tell"),
    ("open-conductor", {"volts_12": 480, "volts_23": 478, "volts_31": 481, "nominal": 208}, "open", "cannot tell"),
    ("open-conductor", {"volts_12": 165, "volts_23": 208, "volts_31": 165, "nominal": 208}, "open", "cannot tell"),
    ("capacitor-check", {"microfarads": 0.1, "rated": 40}, "verdict", "open"),
    ("capacitor-check", {"microfarads": 50, "rated": 40}, "verdict", "high"),
    ("brake-coil", {"volts": 90, "watts": 30, "measured": 200}, "verdict", "low"),
    ("brake-coil", {"volts": 90, "watts": 30, "measured": 500}, "verdict", "high"),
    ("duty", {"cycles": 30, "running": 30, "rated": 20}, "verdict", "over rating"),
    ("duty", {"cycles": 20, "running": 30, "rated": 20}, "verdict", "within rating"),
    ("links-to-remove", {"slack": 0.9, "chain": 40, "take_up_left": 0.2}, "verdict", "out of reach"),
    ("links-to-remove", {"slack": 0.9, "chain": 40, "take_up_left": 0.6}, "verdict", "take up"),
    ("door-balance", {"heights": (0, 84), "up": (40, 10), "down": (20, -10)}, "verdict", "falls"),
    ("door-balance", {"heights": (0, 84), "up": (10, -20), "down": (-10, -40)}, "verdict", "rises"),
    ("door-balance", {"heights": (0, 84), "up": (40, -20), "down": (20, -40)}, "verdict", "falls and rises"),
    ("door-life", {"per_day": 40, "rated": 10_000, "so_far": 12_000}, "verdict", "past rated life"),
    ("door-life", {"per_day": 40, "rated": 20_000, "so_far": 12_000}, "verdict", "within the year"),
    ("spring-life", {"years": 6, "per_day": 4}, "verdict", "late"),
    ("signal-margin", {"power": 20, "loss": 95, "sensitivity": -80}, "verdict", "thin"),
    ("signal-margin", {"power": 20, "loss": 110, "sensitivity": -80}, "verdict", "none"),
]


@pytest.mark.parametrize(("name", "values", "output", "word"), WORDS)
def test_awkward_cases_get_the_honest_word(name: str, values: dict[str, Any], output: str, word: str) -> None:
    assert find(name).evaluate(values).values[output] == word


def test_a_running_motor_is_never_cleared_by_volts_that_only_look_well() -> None:
    """Whole but a few percent apart: an open line held up by the motor looks just so."""
    values = {"volts_12": 480, "volts_23": 462, "volts_31": 462, "nominal": 480, "motor": "running"}
    found = find("open-conductor").evaluate(values)
    assert found.values["open"] == "cannot tell"
    assert "read the current in each conductor" in found.working


# ---- drift ---------------------------------------------------------------------------------------------------


def _share(kind: str, make: Any, times: int = 200) -> float:
    chance = random.Random(7)
    return sum(make(chance).kind == kind for _ in range(times)) / times


def test_readings_with_nothing_wrong_are_called_so_nineteen_times_in_twenty() -> None:
    def plain(chance: random.Random) -> Any:
        return stop_drift([chance.gauss(0, 0.05) for _ in range(10)], [chance.gauss(20, 5) for _ in range(10)])

    assert _share("plain scatter", plain) >= 0.93  # 0.95 less two standard errors of 200


def test_real_slips_jumps_and_weather_are_told_apart() -> None:
    def slip(chance: random.Random) -> Any:
        return stop_drift([0.05 * cycle + chance.gauss(0, 0.05) for cycle in range(12)])

    def jump(chance: random.Random) -> Any:
        return stop_drift([(0.4 if cycle >= 6 else 0) + chance.gauss(0, 0.05) for cycle in range(12)])

    def weather(chance: random.Random) -> Any:
        warmth = [chance.gauss(15, 6) for _ in range(12)]
        return stop_drift([0.02 * each + chance.gauss(0, 0.05) for each in warmth], warmth)

    assert _share("steady slip", slip) > 0.95
    assert _share("one-off jump", jump) > 0.95
    assert _share("follows temperature", weather) > 0.95


def test_a_slip_in_rising_warmth_cannot_be_told_and_says_how_many_more() -> None:
    warmth = (10.0, 11.2, 11.8, 13.1, 14.0, 15.1, 15.9, 17.0)
    stops = (0.0, 0.08, 0.08, 0.17, 0.19, 0.24, 0.34, 0.35)
    found = find("stop-drift").evaluate({"stops": stops, "temperatures": warmth})
    assert found.values["kind"] == "cannot tell"
    assert 0 < float(found.values["more"]) <= 100
    assert "at one steady temperature would settle it" in found.working


def test_readings_alike_to_the_last_division_are_not_a_slip() -> None:
    found = stop_drift([10.0] * 8)
    assert (found.kind, found.p) == ("plain scatter", 1.0)
    one_off = stop_drift([10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0625], step=0.0625)
    assert one_off.kind == "plain scatter"


def test_a_scatter_that_hides_any_slip_says_so() -> None:
    found = find("stop-drift").evaluate({"stops": (50, -40, 30, -60, 10, 45), "matters": 0.0001})
    assert found.values["more"] == 500
    assert "measure more finely" in found.working


def test_a_perfect_slip_is_a_slip() -> None:
    assert stop_drift([0.1 * cycle for cycle in range(8)]).kind == "steady slip"


def test_scatter_says_how_many_more_would_show_a_slip() -> None:
    found = find("stop-drift").evaluate({"stops": (0.1, -0.2, 0.15, -0.05, 0.0, 0.12), "matters": 0.01})
    assert found.values["kind"] == "plain scatter"
    assert float(found.values["more"]) > 5
    assert "more would show a slip of 0.01 in a cycle" in found.working


# ---- springs and secrets ------------------------------------------------------------------------------------


def test_everything_about_springs_sends_to_a_door_technician_and_winds_nothing() -> None:
    for each in all_formulas():
        if each.name in {"spring-rate", "spring-match", "spring-energy", "balance-force", "door-balance"}:
            assert "door technician" in each.limits
            assert "no winding instructions" in each.limits
        assert not any(output.unit == "turns" for output in each.outputs if "spring" in each.name)
        assert not any("wind" in output.title.lower().split() for output in each.outputs)


def test_no_formula_takes_a_secret() -> None:
    """A calculator's inputs end in shell histories and records, so none of them may ask for a pass-phrase."""
    for each in all_formulas():
        assert not any("pass" in one.name or "phrase" in one.name or "key" in one.name for one in each.inputs)
