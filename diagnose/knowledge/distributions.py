"""What an answer is likely to be in a given state of the door: shares of choices, or the spread of a reading.

Numbers are in the check's own unit. A reading's spread is that of the true value; the instrument's error is
added when a probability is asked for, so that the same state serves a good meter and a poor one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import msgspec

from diagnose.knowledge.words import NotUnderstood, read_likelihood

_SQRT_2 = math.sqrt(2.0)
# A word's rounding, such as .98 and .07 beside each other, is no fault.
_SLACK = 0.06
_SUM_MEND = "Lower the likeliest of them, or leave an answer out: what is left over is shared out by itself."
_SQRT_2_PI = math.sqrt(2.0 * math.pi)


class Shares(msgspec.Struct, frozen=True, tag="shares"):
    """The share of each answer of a question; they sum to 1."""

    shares: dict[str, float]


class Normal(msgspec.Struct, frozen=True, tag="normal"):
    """A bell curve: mean and standard deviation."""

    mean: float
    spread: float


class LogNormal(msgspec.Struct, frozen=True, tag="lognormal"):
    """For what varies by a factor: the median, and the factor (above 1) that one standard deviation is."""

    median: float
    factor: float


class Uniform(msgspec.Struct, frozen=True, tag="uniform"):
    """Anywhere between two values alike."""

    low: float
    high: float


class Beyond(msgspec.Struct, frozen=True, tag="beyond"):
    """Above all the instrument can show: an open circuit on the ohms range."""


class Scale(msgspec.Struct, frozen=True):
    """Where a reading stands by how far it is from sound: even steps near ``origin``, and by ratios further out.

    The place of x is ±ln(1 + |x − origin|/step), and x itself where ``step`` is 0. A brake's 2 in of coasting more
    are much beside 1 in, and little beside 60.
    """

    origin: float = 0.0
    step: float = 0.0

    def place(self, value: float) -> float:
        if not self.step or math.isinf(value):
            return value
        off = value - self.origin
        return math.copysign(math.log1p(abs(off) / self.step), off)

    def reading(self, place: float) -> float:
        """The reading that stands at ``place``."""
        if not self.step:
            return place
        return self.origin + math.copysign(self.step * math.expm1(abs(place)), place)

    def stretch(self, value: float, difference: float) -> float:
        """A small difference of readings near ``value``, as a difference of places."""
        return difference / (self.step + abs(value - self.origin)) if self.step else difference


# The share of readings that are this or worse, and of slips of the reader, that is more than the range holds.
BEYOND_RANGE, SLIP_BEYOND_RANGE = 0.05, 0.01


class Outward(msgspec.Struct, frozen=True, tag="outward"):
    """This or worse: from ``begins`` it rises to ``full``, and from there outward no place weighs less.

    ``end`` is where the plausible range ends on the worse side; it lies below ``full`` where lower is worse. With u
    the place of a reading on ``scale``, the density over u is proportional to Φ((u − m)/σ) up to ``end``: m half way
    and σ a quarter of the way from ``begins`` to ``full``. It is divided by its integral, so that all within the
    range has 1 − ``beyond``; the rest is worse than can be read, and is nothing where ``end`` is as bad as this fault
    can make it. An instrument's error widens σ.

    How bad a fault is when somebody is called depends on how long they waited, which nobody knows: so from ``full``
    on each place is as likely as the next. A slip of the reader is spread on the same scale (``misread``), and so
    what is worse than ``full`` always speaks as strongly for the fault against it.
    """

    begins: float
    full: float
    end: float
    scale: Scale = Scale()
    beyond: float = BEYOND_RANGE


Spread = Normal | LogNormal | Uniform | Beyond | Outward


class Mixture(msgspec.Struct, frozen=True, tag="mixture"):
    """Several spreads, each with its share; the shares sum to 1."""

    parts: tuple[tuple[float, Spread], ...]


Distribution = Shares | Normal | LogNormal | Uniform | Beyond | Outward | Mixture


def mostly(spread: Distribution) -> Distribution:
    """The spread itself, or a mixture's largest part."""
    return max(spread.parts, key=lambda part: part[0])[1] if isinstance(spread, Mixture) else spread


def scale_of(sound: Distribution | None, plausible: tuple[float, float] | None) -> Scale:
    """The scale of a check's readings, by what a sound door shows; even steps where that says nothing.

    What varies by a factor is measured from zero by its median, all else from the middle by what is usual there.
    """
    match sound and mostly(sound):
        case LogNormal(median, _) if plausible is None or plausible[0] >= 0:
            return Scale(0.0, median)
        case Normal(mean, deviation):
            return Scale(mean, 2 * deviation)
        case Uniform(low, high):
            return Scale(0.0, high) if low == 0 else Scale((low + high) / 2, (high - low) / 2)
        case _:
            return Scale()


def misread(sound: Distribution | None, plausible: tuple[float, float], low: float, high: float) -> float:
    """P(low ≤ reading ≤ high) for a slip of the reader: anything in the range, on the scale of the readings, and
    seldom what is below or above it."""
    scale = scale_of(sound, plausible)
    bottom, top = scale.place(plausible[0]), scale.place(plausible[1])
    within = min(scale.place(high), top) - max(scale.place(low), bottom)
    beyond = SLIP_BEYOND_RANGE * ((low < plausible[0]) * math.isinf(low) + (high > plausible[1]) * math.isinf(high))
    return beyond + (1 - 2 * SLIP_BEYOND_RANGE) * max(0.0, within / (top - bottom))


def probability(spread: Distribution, low: float, high: float, error: float = 0.0) -> float:
    """P(low ≤ reading ≤ high) for a state, read by an instrument of standard uncertainty ``error``.

    The error is taken as normal and independent of the state, and so added in quadrature (JCGM 100:2008,
    5.1.2). For a lognormal state it is added as a share of the reading, or of the median where that is larger: what
    reads 800 ohm is uncertain by a share of 800 ohm, though the median were half an ohm. Good while the share is small.
    """
    match spread:
        case Normal(mean, deviation):
            combined = math.hypot(deviation, error)
            return _between(low, high, mean, combined)
        case LogNormal(median, factor):
            combined = math.hypot(math.log(factor), error / max(median, low))
            log_low = math.log(low) - math.log(median) if low > 0 else -math.inf
            log_high = math.log(high) - math.log(median) if high > 0 else -math.inf
            return _between(log_low, log_high, 0.0, combined)
        case Uniform(bottom, top):
            return _uniform_between(low, high, bottom, top, error)
        case Beyond():
            return 1.0 if math.isinf(high) else 0.0
        case Outward():
            return _outward_between(spread, low, high, error)
        case Mixture(parts):
            return sum(share * probability(part, low, high, error) for share, part in parts)
        case Shares():
            raise TypeError("A question's shares have no numbers to lie between.")


def centre(spread: Distribution) -> float:
    """The middle of a reading's spread; infinite for ``Beyond``."""
    match spread:
        case Normal(mean, _):
            return mean
        case LogNormal(median, _):
            return median
        case Uniform(low, high):
            return (low + high) / 2
        case Beyond():
            return math.inf
        case Outward():
            return quantile(spread, 0.5)
        case Mixture(parts):
            return sum(share * centre(part) for share, part in parts)
        case Shares():
            raise TypeError("A question's shares have no centre.")


def quantile(spread: Outward, share: float) -> float:
    """The reading that ``share`` of them lie nearer to sound than, 0 to 1; the range's end for what is beyond it."""
    middle, rise = _rise(spread)
    reach = spread.scale.place(spread.end) - middle
    far = abs(reach)
    wanted = min(share / (1 - spread.beyond), 1.0) * _climb(far, rise)
    near = -8.0 * rise
    for _ in range(60):
        between = (near + far) / 2
        near, far = (between, far) if _climb(between, rise) < wanted else (near, between)
    return spread.scale.reading(middle + math.copysign(far, reach) * (1 if far >= 0 else -1))


def extent(spread: Distribution, reach: float = 2.5) -> tuple[float, float]:
    """A range that holds nearly all of a spread, ``reach`` standard deviations each way."""
    match spread:
        case Normal(mean, deviation):
            return mean - reach * deviation, mean + reach * deviation
        case LogNormal(median, factor):
            return median / factor**reach, median * factor**reach
        case Uniform(low, high):
            return low, high
        case Beyond():
            return math.inf, math.inf
        case Outward(full=full, end=end, scale=scale):
            middle, rise = _rise(spread)
            near = scale.reading(middle - math.copysign(reach * rise, end - full))
            return min(near, end), max(near, end)
        case Mixture(parts):
            extents = [extent(part, reach) for _, part in parts]
            return min(low for low, _ in extents), max(high for _, high in extents)
        case Shares():
            raise TypeError("A question's shares have no extent.")


def read_shares(written: Any, answers: tuple[str, ...], healthy: Mapping[str, float] | None = None) -> Shares:
    """The shares of a question's answers from the few that are written.

    What is left over goes to the answers not written, in proportion to how a healthy door shares it out among
    them, or evenly where ``healthy`` is not known. A sum that is off 1 by no more than words are rounded is scaled.
    """
    if not isinstance(written, Mapping):
        raise NotUnderstood(f"'{written}' says nothing about the answers.", "Write '{answer: likelihood}'.")
    given: dict[str, float] = {}
    for answer, likelihood in written.items():
        if answer not in answers:
            raise NotUnderstood(f"'{answer}' is not an answer here.", f"The answers are: {', '.join(answers)}.")
        given[answer] = read_likelihood(likelihood)
    total = sum(given.values())
    others = [answer for answer in answers if answer not in given]
    if not others or total > 1:
        if total <= 0:
            raise NotUnderstood("Every answer is impossible here.", "Give one of them a likelihood.")
        if abs(total - 1) > _SLACK:
            raise NotUnderstood(f"These likelihoods sum to {total:.3g}.", _SUM_MEND)
        shares = {answer: given.get(answer, 0.0) / total for answer in answers}
        return Shares(shares)
    weights = {answer: (healthy or {}).get(answer, 0.0) for answer in others}
    if sum(weights.values()) <= 0:
        weights = dict.fromkeys(others, 1.0)
    scale = (1.0 - total) / sum(weights.values())
    return Shares({answer: given[answer] if answer in given else weights[answer] * scale for answer in answers})


class Range(msgspec.Struct, frozen=True):
    """What 'this or worse' is measured against: where a reading can lie, and what a sound door shows."""

    plausible: tuple[float, float] | None = None
    sound: Distribution | None = None


def read_spread(
    written: Any, amount: Callable[[Any], float], width: Callable[[Any], float], within: Range
) -> Distribution:
    """A reading's spread as an author writes it.

    ``amount`` reads a written quantity into the check's unit and ``width`` a difference of quantities.
    """
    if not isinstance(written, Mapping):
        raise NotUnderstood(f"'{written}' is no spread of a reading.", _SPREAD_HELP)
    if "unseen" in written:
        shown = {key: value for key, value in written.items() if key != "unseen"}
        return _partly(read_likelihood(written["unseen"]), within.sound, read_spread(shown, amount, width, within))
    keys = set(written) - {"source", "share", "value"}
    if len(keys) != 1:
        raise NotUnderstood("A spread is written with one kind.", _SPREAD_HELP)
    kind = keys.pop()
    value = written[kind]
    if kind == "mixture":
        return _read_mixture(value, amount, width, within)
    if kind in ("at-least", "at-most"):
        return _read_outward(kind, value, amount, within)
    if kind == "beyond":
        return Beyond()
    if kind not in ("normal", "lognormal", "uniform"):
        raise NotUnderstood(f"'{kind}' is no kind of spread.", _SPREAD_HELP)
    if not isinstance(value, list) or len(value) != 2:
        raise NotUnderstood(f"'{kind}' needs two numbers.", _SPREAD_HELP)
    if kind == "normal":
        spread = width(value[1])
        if spread <= 0:
            raise NotUnderstood("A standard deviation must be above 0.", _SPREAD_HELP)
        return Normal(amount(value[0]), spread)
    if kind == "uniform":
        low, high = amount(value[0]), amount(value[1])
        if low >= high:
            raise NotUnderstood("A uniform spread must end above where it starts.", _SPREAD_HELP)
        return Uniform(low, high)
    median, factor = amount(value[0]), value[1]
    if median <= 0 or not isinstance(factor, (int, float)) or factor <= 1:
        raise NotUnderstood("A lognormal needs a median above 0 and a plain factor above 1.", _SPREAD_HELP)
    return LogNormal(median, float(factor))


_SPREAD_HELP = (
    "Write '{normal: [24 V, 1.2 V]}' (mean, standard deviation), '{lognormal: [3 ohm, 1.5]}' (median, factor), "
    "'{at-least: [0.1 in, 0.3 in]}' (begins, full from), '{at-most: [20 V, 17 V], unseen: 0.2}', "
    "'{uniform: [0 V, 3 V]}', '{beyond: range}', or '{mixture: [{share: 0.7, normal: […]}, …]}'."
)


def _partly(unseen: float, sound: Distribution | None, shown: Distribution) -> Mixture:
    """A share ``unseen`` as a sound door mostly reads, the rest as ``shown``."""
    if sound is None or not 0 < unseen < 1:
        raise NotUnderstood("'unseen' is the share of doors with the cause that read as a sound one.", _SPREAD_HELP)
    parts = shown.parts if isinstance(shown, Mixture) else ((1.0, shown),)
    both = [(unseen, mostly(sound)), *(((1 - unseen) * share, part) for share, part in parts)]
    return Mixture(tuple((share, part) for share, part in both if not isinstance(part, (Mixture, Shares))))


def _read_outward(kind: str, written: Any, amount: Callable[[Any], float], within: Range) -> Outward:
    if within.plausible is None:
        raise NotUnderstood(f"'{kind}' needs the range to end with.", "Write the check's 'plausible:'.")
    side = 1 if kind == "at-least" else -1
    end = within.plausible[1 if side > 0 else 0]
    if isinstance(written, list):
        if len(written) not in (2, 3):
            raise NotUnderstood(f"'{kind}' needs two readings, or three.", _SPREAD_HELP)
        begins, full, *worst = (amount(each) for each in written)
        end = worst[0] if worst else end
    else:
        full = amount(written)
        edges = extent(within.sound, 2.0) if within.sound is not None else (math.inf, math.inf)
        begins = edges[1 if side > 0 else 0]
    if not math.isfinite(begins) or side * (full - begins) <= 0:
        order = "a lower" if side > 0 else "a higher"
        raise NotUnderstood(
            f"'{kind}' has nowhere to rise from.", f"Write two readings: {order} one, where it begins, then full from."
        )
    if side * (end - full) <= 0:
        raise NotUnderstood(f"'{kind}' is full only where it ends.", "Widen the plausible range, or begin nearer.")
    ends_there = isinstance(written, list) and len(written) == 3
    return Outward(begins, full, end, scale_of(within.sound, within.plausible), 0.0 if ends_there else BEYOND_RANGE)


def _read_mixture(
    written: Any, amount: Callable[[Any], float], width: Callable[[Any], float], within: Range
) -> Mixture:
    if not isinstance(written, list) or not written:
        raise NotUnderstood("A mixture needs a list of spreads.", _SPREAD_HELP)
    parts: list[tuple[float, Spread]] = []
    for part in written:
        if not isinstance(part, Mapping) or "share" not in part:
            raise NotUnderstood("Each part of a mixture needs a 'share'.", _SPREAD_HELP)
        spread = read_spread(part, amount, width, within)
        if isinstance(spread, (Mixture, Shares)):
            raise NotUnderstood("A mixture cannot hold another mixture.", _SPREAD_HELP)
        parts.append((read_likelihood(part["share"]), spread))
    total = sum(share for share, _ in parts)
    if not math.isclose(total, 1.0, abs_tol=0.02):
        raise NotUnderstood(f"The shares of this mixture sum to {total:g}.", "They must sum to 1.")
    return Mixture(tuple((share / total, spread) for share, spread in parts))


def _between(low: float, high: float, mean: float, deviation: float) -> float:
    if deviation <= 0:
        return 1.0 if low <= mean <= high else 0.0
    from_low, from_high = (low - mean) / deviation, (high - mean) / deviation
    # Differences of the nearer tail, lest two numbers close to 1 cancel.
    if from_low > 0:
        return _normal_cdf(-from_low) - _normal_cdf(-from_high)
    return _normal_cdf(from_high) - _normal_cdf(from_low)


def _uniform_between(low: float, high: float, bottom: float, top: float, error: float) -> float:
    low, high = max(low, bottom - 12 * error), min(high, top + 12 * error)
    if high <= low:
        return 0.0
    # An error that is nothing beside the spread's width is none; dividing by it would overflow.
    if error <= 1e-9 * (top - bottom):
        return max(0.0, min(high, top) - max(low, bottom)) / (top - bottom)

    def integral(x: float) -> float:
        """∫ Φ((t − bottom)/error) − Φ((t − top)/error) dt up to x."""
        return error * (_ramp((x - bottom) / error) - _ramp((x - top) / error))

    return min(1.0, max(0.0, (integral(high) - integral(low)) / (top - bottom)))


def _rise(spread: Outward) -> tuple[float, float]:
    """The middle of where a spread rises and the standard deviation of the rise, as places on its scale."""
    begins, full = spread.scale.place(spread.begins), spread.scale.place(spread.full)
    return (begins + full) / 2, max(abs(full - begins) / 4, 1e-9 * (1 + abs(full)))


def _outward_between(spread: Outward, low: float, high: float, error: float) -> float:
    scale = spread.scale
    middle, rise = _rise(spread)
    read = low if math.isfinite(low) else high
    if error and math.isfinite(read):
        rise = math.hypot(rise, scale.stretch(read, error))
    near, far, end = (scale.place(value) - middle for value in (low, high, spread.end))
    beyond = math.isinf(high)
    if end < 0:
        near, far, end, beyond = -far, -near, -end, math.isinf(low)
    within = _climb(min(far, end), rise) - _climb(min(near, end), rise)
    return max(0.0, within / _climb(end, rise) * (1 - spread.beyond)) + spread.beyond * beyond


def _climb(distance: float, rise: float) -> float:
    """∫ Φ(t/rise) dt up to ``distance``."""
    return 0.0 if distance == -math.inf else rise * _ramp(distance / rise)


def _ramp(z: float) -> float:
    """The integral of the normal distribution function: zΦ(z) + φ(z)."""
    return z * _normal_cdf(z) + math.exp(-z * z / 2) / _SQRT_2_PI


def _normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / _SQRT_2)
