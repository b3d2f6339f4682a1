"""The door over a day and over its life."""

from __future__ import annotations

from typing import Annotated, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown

PER_DAY = Input("count", "Cycles a day", least=0.001, most=20_000)
DAYS_A_YEAR = Input("day", "Days in use a year", least=1, most=366)
RATED = Input("count", "Rated life in cycles", least=100, most=20_000_000)

_CYCLE = "One cycle is open and closed again."


class TimerCloseTime(NamedTuple):
    travel_time: Annotated[float, Output("s", "Closing")]
    total: Annotated[float, Output("s", "From fully open to closed")]


@formula(
    title="Time until a door under a timer is closed",
    working=(
        "{dwell} s open, {warning} s of warning, {travel} in at {speed} in/s ({travel_time} s): closed after {total} s"
    ),
    source=(
        "Sum of the parts. Warning of 5 s or more before an unattended close: 16 CFR 1211.14, residential, by analogy"
    ),
    limits="Steady speed, nothing in the way: each obstruction starts the timer again.",
)
def timer_close_time(
    dwell: Annotated[float, Input("s", "Timer setting, door standing open", least=0, most=3600)],
    travel: Annotated[float, Input("in", "Travel", least=1, most=2000)],
    speed: Annotated[float, Input("in/s", "Closing speed", least=0.5, most=200)],
    warning: Annotated[float, Input("s", "Warning before it moves, if added to the timer", least=0, most=120)] = 0,
) -> TimerCloseTime:
    """Dwell, warning and travel at a steady speed."""
    travel_time = travel / speed
    return TimerCloseTime(travel_time, dwell + warning + travel_time)


class CyclesPerDay(NamedTuple):
    per_day: Annotated[float, Output("count", "Cycles a day")]
    per_year: Annotated[float, Output("count", "Cycles a year of 365 days")]


@formula(
    title="Cycles a day from two counter readings",
    working="{first} to {last} in {days} days: {per_day} a day, {per_year} a year",
    source="Difference over time",
    limits=(f"{_CYCLE} Calendar days, so that idle days are in it. A counter that counts moves counts two a cycle."),
)
def cycles_per_day(
    first: Annotated[float, Input("count", "Earlier counter reading", least=0, most=1e9)],
    last: Annotated[float, Input("count", "Later counter reading", least=0, most=1e9)],
    days: Annotated[float, Input("day", "Days between them", least=0.01, most=20_000)],
) -> CyclesPerDay:
    """Difference of the readings over the days."""
    if last < first:
        raise FormulaError(
            f"The later reading, {shown(last)}, is below the earlier, {shown(first)}: the counter was reset "
            "or the two are swapped."
        )
    return CyclesPerDay((last - first) / days, 365 * (last - first) / days)


class DoorLife(NamedTuple):
    per_year: Annotated[float, Output("count", "Cycles a year")]
    used: Annotated[float, Output("percent", "Share of rated life used")]
    years_left: Annotated[float, Output("year", "Years left, none below zero")]
    verdict: Annotated[str, Output("", "in hand, within the year, or past rated life")]


@formula(
    title="Years a part has left at the present use",
    working=(
        "{per_day} a day, {days_a_year} days: {per_year} a year; {so_far} of {rated} used ({used} %), "
        "{years_left} years left"
    ),
    source="Rated cycles over cycles a year. Rated lives come from the maker or the door's label",
    limits=(
        f"{_CYCLE} A rated life is a mean or a minimum under set conditions, not a date; rust and poor "
        "balance shorten it."
    ),
)
def door_life(
    per_day: Annotated[float, PER_DAY],
    rated: Annotated[float, RATED],
    so_far: Annotated[float, Input("count", "Cycles so far", least=0, most=1e9)] = 0,
    days_a_year: Annotated[float, DAYS_A_YEAR] = 365,
) -> DoorLife:
    """What is left of the rated cycles over the cycles a year."""
    per_year = per_day * days_a_year
    years_left = max(0.0, (rated - so_far) / per_year)
    verdict = "past rated life" if so_far >= rated else "within the year" if years_left <= 1 else "in hand"
    return DoorLife(per_year, 100 * so_far / rated, years_left, verdict)


class SpringLife(NamedTuple):
    cycles: Annotated[float, Output("count", "Cycles since it was fitted")]
    used: Annotated[float, Output("percent", "Share of rated life used")]
    lasts: Annotated[float, Output("year", "Years the rated life lasts at this use")]
    verdict: Annotated[str, Output("", "early, middle, late, or past rated life")]


@formula(
    title="Share of a spring's life used since it was fitted",
    working=(
        "{years} years at {per_day} a day: {cycles} cycles, {used} % of {rated}; the rated life lasts "
        "{lasts} years: {verdict}"
    ),
    source=("Cycles over rated cycles; common practice rates springs at 10 000, 25 000, 50 000 or 100 000 cycles"),
    limits=(
        f"{_CYCLE} Use as steady as now all along. A share near or past 100 % makes a broken spring "
        "likelier, no more. Springs are a door technician's work."
    ),
)
def spring_life(
    years: Annotated[float, Input("year", "Years since the spring was fitted", least=0, most=100)],
    per_day: Annotated[float, PER_DAY],
    rated: Annotated[float, RATED] = 10_000,
    days_a_year: Annotated[float, DAYS_A_YEAR] = 365,
) -> SpringLife:
    """Years times cycles a year, over the rated cycles."""
    per_year = per_day * days_a_year
    cycles = years * per_year
    used = 100 * cycles / rated
    verdict = "past rated life" if used >= 100 else "late" if used >= 80 else "middle" if used >= 40 else "early"
    return SpringLife(cycles, used, rated / per_year, verdict)
