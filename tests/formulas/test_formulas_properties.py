"""What must hold for any values: round trips, scaling, and which way things go."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.formulas import Formula, FormulaError, all_formulas
from diagnose.formulas.counterbalance import balance_force, door_balance, spring_energy, spring_rate
from diagnose.formulas.door import cycles_per_day, door_life, timer_close_time
from diagnose.formulas.drive import (
    CHAINS,
    chain_length,
    chain_sag,
    chain_speed,
    chain_tension,
    chain_travel_time,
    chain_wear,
    drum_size_error,
    links_to_remove,
    sag_from_slack,
    slack_from_sag,
    sprocket_pitch_diameter,
)
from diagnose.formulas.limits import best_step, linear_trend, readings_needed, stop_drift
from diagnose.formulas.motor import (
    capacitor_value,
    duty,
    locked_rotor_amps,
    motor_load_by_slip,
    rms_current,
    winding_temperature,
)
from diagnose.formulas.photo_eyes import beam_angle, beam_gap, beam_loss, beam_offset, far_end_volts, longest_loop_run
from diagnose.formulas.radio import (
    channel_overlap,
    dbm_to_milliwatts,
    free_space_loss,
    indoor_loss,
    milliwatts_to_dbm,
    signal_margin,
)
from diagnose.formulas.supply import open_conductor, unbalance_derating, voltage_unbalance
from diagnose.formulas.wire import (
    conductor_resistance,
    joint_resistance,
    longest_run,
    smallest_gauge,
    voltage_drop,
    wire_size,
)

PHASES = st.sampled_from(["dc", "single", "three"])
GAUGES = st.sampled_from([22, 20, 18, 16, 14, 12, 10])
CHAIN = st.sampled_from(sorted(CHAINS))


def forall(*drawn: st.SearchStrategy[Any], **named: st.SearchStrategy[Any]) -> Any:
    """`given`, without a deadline: the machine may be busy with other things."""
    return lambda test: settings(deadline=None, max_examples=60)(given(*drawn, **named)(test))


def numbers(least: float, most: float) -> st.SearchStrategy[float]:
    return st.floats(least, most, allow_nan=False)


# ---- any value at all ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("each", all_formulas(), ids=lambda each: each.name)
@forall(data=st.data())
def test_any_values_within_the_limits_give_a_finite_answer_or_a_sentence(each: Formula, data: st.DataObject) -> None:
    values: dict[str, Any] = {}
    count = data.draw(st.integers(1, 12))
    for one in each.inputs:
        if one.choices:
            strategy: st.SearchStrategy[Any] = st.sampled_from(one.choices)
        elif one.allowed:
            strategy = st.sampled_from(one.allowed)
        elif one.whole:
            strategy = st.integers(math.ceil(one.least), math.floor(one.most))
        else:
            strategy = numbers(one.least, one.most)
        if one.many:
            strategy = st.lists(strategy, min_size=count, max_size=count)
        if one.optional:
            strategy = st.none() | strategy
        values[one.name] = data.draw(strategy)
    try:
        result = each.evaluate(values)
    except FormulaError as error:
        assert str(error).endswith((".", "?"))
        return
    assert set(result.values) == {output.name for output in each.outputs}
    assert all(isinstance(value, str) or math.isfinite(value) for value in result.values.values())
    assert result.working
    assert "\n" not in result.working


@pytest.mark.parametrize("each", all_formulas(), ids=lambda each: each.name)
@forall(data=st.data())
def test_no_text_shows_a_traceback(each: Formula, data: st.DataObject) -> None:
    values = {one.name: data.draw(st.text(max_size=12)) for one in each.inputs}
    try:
        each.evaluate(values)
    except FormulaError as error:
        assert len(str(error)) > 10


# ---- round trips ---------------------------------------------------------------------------------------------


@forall(GAUGES, numbers(0.01, 15), numbers(0.5, 10), numbers(24, 480), PHASES)
def test_the_longest_run_just_drops_what_is_allowed(
    gauge: int, amps: float, percent: float, volts: float, phase: str
) -> None:
    run = longest_run(volts, amps, gauge, percent, phase)
    assume(0.1 <= run <= 20_000)
    assert voltage_drop(volts, amps, run, gauge, phase).percent == pytest.approx(percent)


@forall(GAUGES, numbers(0.01, 1), numbers(12, 24), numbers(0.5, 5))
def test_the_longest_loop_run_leaves_what_is_needed(gauge: int, amps: float, near: float, spare: float) -> None:
    run = longest_loop_run(near, near - spare, gauge, amps)
    assume(0.1 <= run <= 20_000)
    assert far_end_volts(near, gauge, run, amps).far_volts == pytest.approx(near - spare)


@forall(numbers(0.1, 2), numbers(2, 30), numbers(0.005, 0.12))
def test_sag_and_tension_undo_each_other(weight: float, span: float, share: float) -> None:
    sag = share * 12 * span
    assume(0.05 <= sag <= 72)
    tension = chain_tension(weight, span, sag).tension
    assume(0.1 <= tension <= 5000)
    assert chain_sag(weight, span, tension).sag == pytest.approx(sag)
    assert chain_tension(weight, span, min(72, 2 * sag), "movement").sag == pytest.approx(min(36, sag))


@forall(numbers(2, 30), numbers(0.005, 0.12))
def test_slack_and_sag_undo_each_other(span: float, share: float) -> None:
    sag = share * 12 * span
    assert sag_from_slack(span, slack_from_sag(span, sag)).sag == pytest.approx(sag)


@forall(numbers(-150, 60))
def test_dbm_and_milliwatts_undo_each_other(level: float) -> None:
    assert milliwatts_to_dbm(dbm_to_milliwatts(level)) == pytest.approx(level, abs=1e-9)


@forall(numbers(1, 200), numbers(0, 40))
def test_angle_and_offset_undo_each_other(span: float, angle: float) -> None:
    assert beam_angle(span, beam_offset(span, angle)) == pytest.approx(angle, abs=1e-9)


@forall(numbers(0.5, 200), numbers(-20, 60), numbers(-20, 180))
def test_winding_temperature_undoes_the_straight_line_of_copper(cold: float, t_cold: float, t_hot: float) -> None:
    hot = cold * (234.5 + t_hot) / (234.5 + t_cold)
    assert winding_temperature(cold, t_cold, hot).temperature == pytest.approx(t_hot, abs=1e-6)


@forall(st.lists(st.tuples(numbers(0, 100), numbers(-60, 60), numbers(0, 40)), min_size=2, max_size=6))
def test_balance_and_friction_come_back_from_the_pulls(rows: list[tuple[float, float, float]]) -> None:
    heights = [row[0] for row in rows]
    assume(max(heights) - min(heights) > 0.1)
    found = door_balance(heights, [b + f for _, b, f in rows], [b - f for _, b, f in rows])
    assert abs(found.worst) == pytest.approx(max(abs(b) for _, b, _ in rows), abs=1e-9)
    assert found.friction == pytest.approx(sum(f for *_, f in rows) / len(rows), abs=1e-9)


@forall(GAUGES, numbers(0.5, 15), numbers(10, 200), numbers(0.05, 3), PHASES)
def test_a_joint_of_known_resistance_is_found(gauge: int, amps: float, run: float, ohms: float, phase: str) -> None:
    expected = joint_resistance(480, 480, amps, gauge, run, phase).expected_drop
    excess = amps * ohms * (math.sqrt(3) / 2 if phase == "three" else 1)
    assume(expected + excess < 470)
    found = joint_resistance(480, 480 - expected - excess, amps, gauge, run, phase)
    assert found.joint_ohms == pytest.approx(ohms, rel=1e-6)
    assert found.joint_watts == pytest.approx(amps**2 * ohms, rel=1e-6)


@forall(CHAIN, st.integers(10, 60), numbers(0, 3))
def test_wear_comes_back_from_a_worn_length(chain: int, pitches: int, percent: float) -> None:
    length = CHAINS[chain].pitch * pitches * (1 + percent / 100)
    assert chain_wear(chain, pitches, length).percent == pytest.approx(percent, abs=1e-9)


# ---- scaling with units --------------------------------------------------------------------------------------


@forall(numbers(10, 200), numbers(0.1, 4))
def test_resistance_goes_with_length(run: float, times: float) -> None:
    one, more = conductor_resistance(14, run), conductor_resistance(14, run * times)
    assert more.loop == pytest.approx(times * one.loop)


@forall(st.integers(-3, 30))
def test_three_sizes_nearly_halve_the_area_and_six_the_diameter(gauge: int) -> None:
    assert wire_size(gauge + 3).area / wire_size(gauge).area == pytest.approx(0.5, abs=0.002)
    assert wire_size(gauge + 6).diameter / wire_size(gauge).diameter == pytest.approx(0.5, abs=0.002)


@forall(numbers(100, 400), numbers(100, 400), numbers(100, 400), numbers(0.5, 2))
def test_unbalance_is_a_ratio_and_does_not_mind_the_order(a: float, b: float, c: float, times: float) -> None:
    percent = voltage_unbalance(a, b, c).percent
    assert voltage_unbalance(times * a, times * b, times * c).percent == pytest.approx(percent, abs=1e-9)
    assert voltage_unbalance(c, a, b).percent == pytest.approx(percent, abs=1e-9)


@forall(numbers(50, 400), st.integers(9, 40), numbers(0.1, 1))
def test_a_wire_16_times_as_stiff_is_twice_as_thick(rpm: float, teeth: int, coil: float) -> None:
    assert spring_rate(0.5, 4, 50).rate == pytest.approx(16 * spring_rate(0.25, 4, 50).rate)
    assert chain_speed(40, teeth, rpm).speed == pytest.approx(2 * chain_speed(40, teeth, rpm / 2).speed)
    assert spring_energy(10, 2 * coil + 0.5).energy == pytest.approx(10 * math.pi * (2 * coil + 0.5) ** 2)


@forall(numbers(10, 400), numbers(0.1, 20))
def test_capacitance_goes_with_current_and_against_frequency(volts: float, amps: float) -> None:
    assert capacitor_value(volts, amps, 50) == pytest.approx(1.2 * capacitor_value(volts, amps, 60))


@forall(numbers(1, 100), numbers(1, 4))
def test_the_inverse_square_adds_up(near: float, times: float) -> None:
    there = beam_loss(near, near * times).loss
    assert beam_loss(near * times, near).loss == pytest.approx(-there, abs=1e-9)
    assert free_space_loss(2437, near * times) - free_space_loss(2437, near) == pytest.approx(there, abs=1e-9)


@forall(st.lists(numbers(0, 30), min_size=1, max_size=5))
def test_rms_of_a_steady_current_is_that_current(currents: list[float]) -> None:
    assert rms_current([currents[0]] * 3, [10, 20, 30], 60) == pytest.approx(currents[0])
    heating = rms_current(currents, [10] * len(currents), 10 * len(currents))
    assert min(currents) - 1e-9 <= heating <= max(currents) + 1e-9


@forall(st.lists(numbers(-5, 5), min_size=5, max_size=20), numbers(-100, 100))
def test_drift_does_not_mind_where_zero_is(stops: list[float], shift: float) -> None:
    one = stop_drift([round(stop, 3) for stop in stops])
    other = stop_drift([round(stop, 3) + round(shift, 3) for stop in stops])
    assert other.slope == pytest.approx(one.slope, abs=1e-9)
    assert other.jump == pytest.approx(one.jump, abs=1e-6) or one.kind == "plain scatter"


# ---- which way things go -------------------------------------------------------------------------------------


@forall(GAUGES, numbers(0.1, 5), numbers(1, 100), numbers(1.01, 2))
def test_more_current_more_length_more_heat_all_drop_more(gauge: int, amps: float, run: float, times: float) -> None:
    drop = voltage_drop(480, amps, run, gauge).drop
    assert voltage_drop(480, amps * times, run, gauge).drop > drop
    assert voltage_drop(480, amps, run * times, gauge).drop > drop
    assert voltage_drop(480, amps, run, gauge, temperature=90).drop > drop
    assert voltage_drop(480, amps, run, gauge - 2).drop < drop
    assert voltage_drop(480, amps, run, gauge, phase="three").drop < drop


@forall(numbers(0.5, 20), numbers(10, 200), numbers(1, 10))
def test_the_smallest_size_does_and_the_next_thinner_does_not(amps: float, run: float, percent: float) -> None:
    try:
        found = smallest_gauge(240, amps, run, percent)
    except FormulaError:
        assert voltage_drop(1000, amps, run, 0).drop > 240 * percent / 100
        return
    assert found.percent_used <= percent
    if found.gauge < 14:
        thinner = found.gauge + (2 if found.gauge >= 4 else 1)
        assert voltage_drop(1000, amps, run, thinner).drop > 240 * percent / 100


@forall(numbers(0, 5), numbers(0, 5))
def test_more_unbalance_never_allows_more_load(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert unbalance_derating(low).factor >= unbalance_derating(high).factor
    assert unbalance_derating(5.001).factor == 0


@forall(st.permutations(["L1", "L2", "L3"]), numbers(0.35, 0.65), numbers(0.9, 1.04))
def test_the_open_conductor_is_found_whichever_it_is(order: list[str], low: float, high: float) -> None:
    lost = order[0]
    volts = {pair: 480 * (low if lost in pair else high) for pair in ("L1-L2", "L2-L3", "L3-L1")}
    assert open_conductor(*volts.values(), nominal=480).open == lost


@forall(CHAIN, numbers(10, 60), st.integers(12, 60), st.integers(9, 12))
def test_a_chain_is_longer_than_twice_the_centres_and_even(chain: int, centres: float, large: int, small: int) -> None:
    touching = (sprocket_pitch_diameter(chain, large) + sprocket_pitch_diameter(chain, small)) / 2
    assume(centres > 1.05 * touching)
    found = chain_length(centres, chain, large, small)
    assert found.links % 2 == 0
    # Rounding in the last digit of a float is no link.
    assert found.pitches - 1e-9 <= found.links < found.pitches + 2
    assert found.length > 2 * centres


@forall(CHAIN, numbers(0, 8), numbers(0, 2), numbers(0, 2), st.sampled_from([1, 2]))
def test_taking_out_links_leaves_a_chain_that_can_be_joined(
    chain: int, slack: float, left: float, used: float, step: int
) -> None:
    found = links_to_remove(slack, chain, left, used, step)
    pitch = CHAINS[chain].pitch
    assert found.links % step == 0
    assert found.take_up >= -used - 1e-6, "the take-up cannot be let out further than it was taken in"
    assert found.take_up * 2 == pytest.approx(slack - found.links * pitch, abs=1e-9)
    assert slack - (found.links + step) * pitch < -2 * used + 1e-6, "one more would not join"
    assert (found.verdict == "out of reach") == (found.take_up_left < -1e-9)


@forall(numbers(50, 2000), numbers(3, 8), numbers(60, 200), numbers(0.01, 0.98))
def test_a_matched_standard_lift_door_is_balanced_all_the_way(
    weight: float, drum: float, height: float, share: float
) -> None:
    """Turns equal to the drum's own and the rate to match: by hand it weighs nothing anywhere."""
    turns = height / (math.pi * drum)
    assume(0.5 <= turns <= 60 and 0.1 <= weight * drum / 2 / turns <= 5000)
    force = balance_force(weight, drum, height, weight * drum / 2 / turns, turns, share * height).force
    assert force == pytest.approx(0, abs=1e-6 * weight)


@forall(numbers(1755, 1795), numbers(1, 4))
def test_slower_means_more_load(rpm: float, less: float) -> None:
    load = motor_load_by_slip(rpm, 1750, 230, 230).load
    assert motor_load_by_slip(rpm - less, 1750, 230, 230).load > load
    assert motor_load_by_slip(rpm, 1750, 207, 230).load < load, "slip at low voltage overstates the load"


@forall(st.sampled_from("ABCDEFGHJKLMNPRSTU"), numbers(0.25, 10))
def test_a_locked_rotor_band_is_a_band(letter: str, hp: float) -> None:
    found = locked_rotor_amps(hp, 230, letter)
    assert isinstance(found.high, float)
    assert found.low < found.high


@forall(numbers(0.02, 0.5), numbers(0.02, 0.5))
def test_more_scatter_needs_more_readings(scatter: float, other: float) -> None:
    low, high = sorted((scatter, other))
    assert readings_needed(low, 0.02).readings <= readings_needed(high, 0.02).readings
    assert readings_needed(low, 0.02).readings >= readings_needed(low, 0.04).readings


@forall(st.lists(numbers(-10, 10), min_size=4, max_size=15))
def test_the_best_step_beats_one_level(stops: list[float]) -> None:
    mean = sum(stops) / len(stops)
    assert best_step(stops).sse <= sum((stop - mean) ** 2 for stop in stops) + 1e-9
    assert 2 <= best_step(stops).after <= len(stops) - 2


@forall(st.lists(numbers(-10, 10), min_size=4, max_size=15), numbers(-3, 3))
def test_adding_a_slope_adds_that_slope(y: list[float], slope: float) -> None:
    x = list(range(len(y)))
    assume(max(y) - min(y) > 0.01)
    tilted = [value + slope * at for value, at in zip(y, x, strict=True)]
    try:
        before, after = linear_trend(x, y), linear_trend(x, tilted)
    except FormulaError:
        assume(False)
    assert after.slope - before.slope == pytest.approx(slope, abs=1e-9)


@forall(numbers(1, 60), numbers(1, 600), numbers(1, 40), numbers(0, 30))
def test_times_add_up(dwell: float, travel: float, speed: float, warning: float) -> None:
    found = timer_close_time(dwell, travel, speed, warning)
    assert found.total == pytest.approx(dwell + warning + travel / speed)
    assert chain_travel_time(60, 1, 41, 12, travel).seconds == pytest.approx(travel / 6)


@forall(numbers(0, 1e6), numbers(0, 1e5), numbers(1, 3000))
def test_life_used_and_life_left_make_a_life(first: float, cycles: float, days: float) -> None:
    per_day = cycles_per_day(first, first + cycles, days).per_day
    assume(0.001 <= per_day <= 20_000)
    found = door_life(per_day, 100_000, cycles)
    if found.verdict != "past rated life":
        assert found.used / 100 * 100_000 + found.years_left * found.per_year == pytest.approx(100_000)


@forall(numbers(0.1, 10), numbers(1, 300))
def test_duty_and_rest_fill_the_hour(cycles: float, running: float) -> None:
    found = duty(cycles, running)
    assert cycles * (running + found.rest) == pytest.approx(3600)


@forall(numbers(2, 12), numbers(2, 12), numbers(10, 200))
def test_a_wrong_drum_the_other_way_round_errs_the_other_way(one: float, other: float, travel: float) -> None:
    there, back = drum_size_error(one, other, travel), drum_size_error(other, one, travel)
    assert there.error * back.error <= 1e-9
    assert there.reached * back.reached == pytest.approx(travel**2)


@forall(numbers(2, 100), numbers(0.5, 10), numbers(0.5, 10), numbers(0, 3))
def test_a_narrower_eye_lets_beams_stand_closer(distance: float, sends: float, sees: float, aim: float) -> None:
    gap = beam_gap(distance, sends, sees, aim).gap
    assert beam_gap(distance, sends, sees + 1, aim).gap >= gap
    assert beam_gap(distance, sends, sees, aim + 1).gap > gap


@forall(numbers(2, 200), st.integers(0, 2), st.sampled_from(["residential", "office", "commercial"]))
def test_walls_floors_and_distance_only_lose(metres: float, floors: int, building: str) -> None:
    loss = indoor_loss(2437, metres, building, floors).loss
    assert indoor_loss(2437, metres * 1.5, building, floors).loss > loss
    assert indoor_loss(2437, metres, building, floors + 1).loss > loss
    assert signal_margin(20, loss + 1, -80).margin == pytest.approx(signal_margin(20, loss, -80).margin - 1)


@forall(st.integers(1, 14), st.integers(1, 14), st.sampled_from([20, 22, 40]))
def test_overlap_does_not_mind_the_order(first: int, second: int, width: int) -> None:
    assert channel_overlap(first, second, width) == channel_overlap(second, first, width)
    assert channel_overlap(first, first, width).percent == 100
