"""Travel limits that wander: a jump, a slip, the weather, or only the tape.

Stop positions cycle by cycle, judged by least squares. A slope that passes its t test does not prove a
slip: one jump makes a slope too. So the best line, the best two-level step and, where temperatures were
noted, the best line on temperature are fitted to the same readings and weighed against one another,
with a penalty for each thing a fit was free to choose.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown

SIGNIFICANT = 0.05
"""The usual one in twenty: how often readings with nothing wrong may look like something."""

POWER = 0.8
"""The usual four in five: how often a real slip should show."""

CLEAR = 2.0
"""Difference of two information criteria below which neither fit is preferred (Kass and Raftery, 1995)."""

SETTLED = 6.0
"""Difference at which the better fit is strongly preferred (Kass and Raftery, 1995)."""

STOPS = Input("in", "Stop positions, cycle by cycle", many=True, least=-2000, most=2000)


class Line(NamedTuple):
    """A least-squares line y = intercept + slope·x."""

    slope: Annotated[float, Output("", "Slope")]
    intercept: Annotated[float, Output("", "Intercept")]
    slope_error: Annotated[float, Output("", "Standard error of the slope")]
    t: Annotated[float, Output("", "Slope over its standard error")]
    p: Annotated[float, Output("", "Chance of such a slope from scatter alone")]
    residual_sd: Annotated[float, Output("", "Standard deviation about the line")]
    sse: Annotated[float, Output("", "Sum of squares about the line")]


def _two_sided(t: float, freedom: int) -> float:
    from scipy.special import stdtr

    return 2 * float(stdtr(freedom, -abs(t)))


def fit_line(x: Sequence[float], y: Sequence[float], through_origin: bool = False, least_sse: float = 0.0) -> Line:
    """The line, with the sum of squares held to at least `least_sse` in its errors: a rule reads in steps."""
    count = len(x)
    x_mean = 0.0 if through_origin else math.fsum(x) / count
    y_mean = 0.0 if through_origin else math.fsum(y) / count
    spread = math.fsum((each - x_mean) ** 2 for each in x)
    slope = math.fsum((a - x_mean) * (b - y_mean) for a, b in zip(x, y, strict=True)) / spread
    intercept = y_mean - slope * x_mean
    sse = math.fsum((b - intercept - slope * a) ** 2 for a, b in zip(x, y, strict=True))
    freedom = count - (1 if through_origin else 2)
    residual_sd = math.sqrt(max(sse, least_sse) / freedom)
    error = residual_sd / math.sqrt(spread)
    if error == 0:
        t, p = (0.0, 1.0) if slope == 0 else (math.copysign(math.inf, slope), 0.0)
    else:
        t = slope / error
        p = _two_sided(t, freedom)
    return Line(slope, intercept, error, t, p, residual_sd, sse)


@formula(
    title="Straight line through readings",
    working="Slope {slope} ± {slope_error}, t {t}, p {p}; scatter about the line {residual_sd}",
    source=("Least squares; Student's t with n - 2 degrees of freedom (n - 1 through the origin)."),
    limits="Three pairs or more. Scatter alike all along, readings independent. A slope is not yet a cause.",
)
def linear_trend(
    x: Annotated[Sequence[float], Input("", "What was varied or counted", many=True, least=-1e6, most=1e6)],
    y: Annotated[Sequence[float], Input("", "What was read", many=True, least=-1e6, most=1e6)],
    through_origin: Annotated[str, Input("", "Line through zero", choices=("no", "yes"))] = "no",
) -> Line:
    """Ordinary least squares of y on x."""
    if len(x) != len(y):
        raise FormulaError(f"Each x needs one y: there are {len(x)} and {len(y)}.")
    if len(x) < 3:
        raise FormulaError(f"A line with its error needs 3 pairs of readings or more; there are {len(x)}.")
    if len(set(x)) < 2:
        raise FormulaError("All the x are the same: there is no line to draw.")
    line = fit_line(x, y, through_origin == "yes")
    if math.isinf(line.t):
        raise FormulaError(
            "The readings lie exactly on a line, so there is no scatter to judge it by. Read to a finer step."
        )
    return line


class Shift(NamedTuple):
    """The two-level step that fits best."""

    after: Annotated[float, Output("count", "Last reading before the jump")]
    jump: Annotated[float, Output("", "Mean after less mean before")]
    sse: Annotated[float, Output("", "Sum of squares about the two levels")]
    p: Annotated[float, Output("", "Chance of such a jump from scatter alone, over all places tried")]
    median_step: Annotated[float, Output("", "Median of the steps from reading to reading")]


def _best_step(stops: Sequence[float], least_sse: float = 0.0) -> Shift:
    count = len(stops)

    def about_mean(part: Sequence[float]) -> float:
        mean = math.fsum(part) / len(part)
        return math.fsum((each - mean) ** 2 for each in part)

    places = range(2, count - 1)
    sse, after = min((about_mean(stops[:place]) + about_mean(stops[place:]), place) for place in places)
    jump = statistics.fmean(stops[after:]) - statistics.fmean(stops[:after])
    error = math.sqrt(max(sse, least_sse) / (count - 2) * (1 / after + 1 / (count - after)))
    p = 1.0 if jump == 0 else 0.0  # where there is no scatter at all
    if error > 0:
        p = min(1.0, len(places) * _two_sided(jump / error, count - 2))
    median_step = statistics.median(b - a for a, b in itertools.pairwise(stops))
    return Shift(float(after), jump, sse, p, median_step)


@formula(
    title="Best single jump in a row of readings",
    working="Best jump {jump} after reading {after}, p {p}; the median step is {median_step}",
    source=(
        "Least squares over every place; two-sample t test with its p multiplied by the places tried (Bonferroni)."
    ),
    limits="Four readings or more, two on each side. One jump only; a slip makes a jump of sorts as well.",
)
def best_step(
    stops: Annotated[Sequence[float], Input("", "Readings, in order", many=True, least=-1e6, most=1e6)],
) -> Shift:
    """Two levels, the place between them chosen for the least sum of squares."""
    if len(stops) < 4:
        raise FormulaError(f"A jump needs 4 readings or more, two on each side; there are {len(stops)}.")
    return _best_step(stops)


def _power(slope: float, scatter: float, count: int) -> float:
    """Chance that `count` evenly spaced readings show the slope: Student's t, non-central."""
    from scipy.special import nctdtr, stdtrit

    centre = abs(slope) * math.sqrt(count * (count**2 - 1) / 12) / scatter
    if centre > 30:  # certain, and beyond where the distribution is computed well
        return 1.0
    freedom = count - 2
    bound = float(stdtrit(freedom, 1 - SIGNIFICANT / 2))
    return 1 - float(nctdtr(freedom, centre, bound)) + float(nctdtr(freedom, centre, -bound))


class ReadingsNeeded(NamedTuple):
    readings: Annotated[float, Output("count", "Readings needed, one a cycle")]
    power: Annotated[float, Output("percent", "Chance they show it")]


@formula(
    title="Readings needed to show a slip",
    working=(
        "Scatter {scatter} in, slip {slip} in a cycle: {readings} readings, one a cycle ({power} % sure to show it)"
    ),
    source=("Power of the slope's t test: non-central t, n(n² - 1)/12 for evenly spaced readings; 5 % and 80 %"),
    limits=(
        "Three readings or more, one each cycle, scatter steady. At most 500: beyond that the slip is lost in scatter."
    ),
)
def readings_needed(
    scatter: Annotated[float, Input("in", "Scatter of single readings, standard deviation", least=1e-6, most=100)],
    slip: Annotated[float, Input("in/count", "Slip a cycle worth finding", least=1e-6, most=100)],
) -> ReadingsNeeded:
    """The smallest number whose slope test is significant four times in five."""
    for count in range(3, 501):
        power = _power(slip, scatter, count)
        if power >= POWER:
            return ReadingsNeeded(float(count), 100 * power)
    raise FormulaError(
        f"More than 500 readings would be needed to see {shown(slip)} in a cycle in a scatter of "
        f"{shown(scatter)} in. Measure more finely, or look for a larger slip."
    )


MANY = 500.0
"""Stands for more readings than anybody will take."""


class _Fit(NamedTuple):
    """One explanation of the readings, for weighing against the others."""

    kind: str
    sse: float
    chosen: int
    p: float


def _criterion(fit: _Fit, count: int, least_sse: float, extra: float = 0.0) -> float:
    """Bayesian information criterion: less is better. `chosen` counts what the fit was free to choose."""
    return count * math.log(max(fit.sse + extra, least_sse) / count) + fit.chosen * math.log(count)


def better_as_a_step(x: Sequence[float], y: Sequence[float], least_sse: float = 0.0) -> bool:
    """Whether a two-level step explains readings in order better than a line does; four readings or more."""
    line = _Fit(SLIP, fit_line(x, y, least_sse=least_sse).sse, 2, 0)
    step = _Fit(JUMP, _best_step(y, least_sse).sse, 3, 0)
    floor = max(least_sse, 1e-12 * math.fsum(each**2 for each in y), 1e-300)
    return _gap(step, line, len(y), floor) > 0


class StopDrift(NamedTuple):
    kind: Annotated[str, Output("", f"{SLIP}, {JUMP}, {WEATHER}, {SCATTER}, or {UNSURE}")]
    slope: Annotated[float, Output("in/count", "Slope on the cycle number")]
    slope_error: Annotated[float, Output("in/count", "Its standard error")]
    t: Annotated[float, Output("", "Slope over its standard error")]
    p: Annotated[float, Output("", "Chance of such a slope from scatter alone")]
    jump: Annotated[float, Output("in", "Best single jump")]
    jump_after: Annotated[float, Output("count", "Cycle after which it came")]
    temperature_slope: Annotated[float | str, Output("in/degC", "Slope on temperature, where temperatures were given")]
    more: Annotated[float, Output("count", "More readings that would settle it; 500 where none would")]


SLIP, JUMP, WEATHER, SCATTER, UNSURE = (
    "steady slip",
    "one-off jump",
    "follows temperature",
    "plain scatter",
    "cannot tell",
)


def _drift_working(values: Mapping[str, Any]) -> str:
    kind, count = values["kind"], len(values["stops"])
    found = {
        SLIP: (f"{shown(values['slope'])} in a cycle (± {shown(values['slope_error'], 2)}, p {shown(values['p'], 2)})"),
        JUMP: f"{shown(values['jump'])} in after cycle {shown(values['jump_after'])}, level before and after",
        WEATHER: f"{shown(values['temperature_slope'])} in per °C",
        SCATTER: "no slip, jump or weather stands out of it",
        UNSURE: "two explanations fit about as well",
    }[kind]
    more = values["more"]
    if more >= MANY:
        found += "; more readings of this kind would not settle it: measure more finely"
    elif more and kind == UNSURE:
        found += f"; {shown(more)} more readings at one steady temperature would settle it"
    elif more:
        found += f"; {shown(more)} more would show a slip of {shown(values['matters'])} in a cycle"
    return f"{count} stops: {kind}: {found}"


@formula(
    title="Do the stops jump, slip, follow the weather, or only scatter",
    working=_drift_working,
    source=(
        "Least squares; Bayesian information criterion (Schwarz, 1978) with the place of the jump counted "
        "as chosen; differences read after Kass and Raftery (1995); power of the t test for more readings. "
        "The default slip worth finding is an estimate"
    ),
    limits=(
        "Five stops or more, one a cycle, none left out, from the same mark with the same rule. One cause "
        "at a time: a slip on top of a jump is called by whichever is greater. Temperatures that only rise "
        "through the run look like a slip, and the answer is then that it cannot tell."
    ),
)
def stop_drift(
    stops: Annotated[Sequence[float], STOPS],
    temperatures: Annotated[
        Sequence[float] | None, Input("degC", "Temperature at each stop", many=True, least=-60, most=80)
    ] = None,
    matters: Annotated[float, Input("in/count", "Slip a cycle worth finding", least=1e-5, most=10)] = 0.02,
    step: Annotated[float, Input("in", "Finest step the readings were taken to", least=1e-4, most=1)] = 0.01,
) -> StopDrift:
    """Fit a line, a step and a line on temperature; keep those that pass; prefer the best by a clear margin.

    The sum of squares is never taken below what rounding to `step` alone would leave (n·step²/12), so
    readings that agree to the last division do not make a hair's breadth look certain.
    """
    count = len(stops)
    if count < 5:
        raise FormulaError(f"Five stops or more are needed to tell a slip from scatter; there are {count}.")
    if temperatures is not None and len(temperatures) != count:
        raise FormulaError(f"Each stop needs one temperature: there are {count} and {len(temperatures)}.")
    cycles = [float(cycle) for cycle in range(1, count + 1)]
    least_sse = count * step**2 / 12

    line = fit_line(cycles, stops, least_sse=least_sse)
    jump = _best_step(stops, least_sse)
    fits = [_Fit(SLIP, line.sse, 2, line.p), _Fit(JUMP, jump.sse, 3, jump.p)]
    weather = None
    if temperatures is not None and len(set(temperatures)) > 1:
        weather = fit_line(temperatures, stops, least_sse=least_sse)
        fits.append(_Fit(WEATHER, weather.sse, 2, weather.p))

    # Shared out among the explanations tried, so that together they cry wolf one time in twenty at most.
    standing = sorted(
        (fit for fit in fits if fit.p < SIGNIFICANT / len(fits)),
        key=lambda fit: _criterion(fit, count, least_sse),
    )
    more = 0.0
    if not standing:
        kind = SCATTER
        scatter = max(statistics.stdev(stops), step / math.sqrt(12))
        more = _more_for_scatter(scatter, matters, count)
    elif len(standing) > 1 and _gap(standing[0], standing[1], count, least_sse) < CLEAR:
        kind = UNSURE
        more = _more_for_doubt(stops, temperatures, {standing[0].kind, standing[1].kind}, least_sse)
    else:
        kind = standing[0].kind
    return StopDrift(
        kind=kind,
        slope=line.slope,
        slope_error=line.slope_error,
        t=line.t,
        p=line.p,
        jump=jump.jump,
        jump_after=jump.after,
        temperature_slope="not given" if weather is None else weather.slope,
        more=more,
    )


def _gap(better: _Fit, other: _Fit, count: int, least_sse: float) -> float:
    return _criterion(other, count, least_sse) - _criterion(better, count, least_sse)


def _more_for_scatter(scatter: float, matters: float, count: int) -> float:
    try:
        return max(0.0, readings_needed(scatter, matters).readings - count)
    except FormulaError:
        return MANY


def _more_for_doubt(
    stops: Sequence[float], temperatures: Sequence[float] | None, rivals: set[str], least_sse: float
) -> float:
    """How many more cycles, at one steady temperature, until either rival, if true, is strongly preferred.

    Each rival in turn is taken as true and run on; both are fitted again with the expected scatter added.
    """
    for extra in range(1, 101):
        if all(_would_settle(stops, temperatures, rivals, truth, extra, least_sse) for truth in rivals):
            return float(extra)
    return MANY


def _would_settle(
    stops: Sequence[float],
    temperatures: Sequence[float] | None,
    rivals: set[str],
    truth: str,
    extra: int,
    least_sse: float,
) -> bool:
    count = len(stops)
    cycles = [float(cycle) for cycle in range(1, count + extra + 1)]
    line = fit_line(cycles[:count], stops)
    jump = _best_step(stops)
    steady = statistics.fmean(temperatures) if temperatures else 0.0
    if truth == SLIP:
        future = [line.intercept + line.slope * cycle for cycle in cycles[count:]]
        true_sse = line.sse
    elif truth == JUMP:
        future = [statistics.fmean(stops[int(jump.after) :])] * extra
        true_sse = jump.sse
    else:
        weather = fit_line(temperatures or (), stops)
        future = [weather.intercept + weather.slope * steady] * extra
        true_sse = weather.sse
    longer = [*stops, *future]
    fits = {
        SLIP: _Fit(SLIP, fit_line(cycles, longer).sse, 2, 0),
        JUMP: _Fit(JUMP, _best_step(longer).sse, 3, 0),
    }
    if temperatures:
        warmth = [*temperatures, *([steady] * extra)]
        fits[WEATHER] = _Fit(WEATHER, fit_line(warmth, longer).sse, 2, 0)
    total = count + extra
    noise = extra * max(true_sse, least_sse) / max(1, count - 2)
    criteria = {kind: _criterion(fits[kind], total, least_sse * total / count, noise) for kind in rivals}
    return min(criteria[kind] for kind in rivals if kind != truth) - criteria[truth] >= SETTLED
