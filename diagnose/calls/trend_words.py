"""A trend in words, drawn in plain characters, and as a picture for the record."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from diagnose.calls.trends import Trend, trends_at
from diagnose.calls.words import Told, computed_in_words, in_words
from diagnose.formulas.wear import CONFIDENCE, student
from diagnose.knowledge.model import Check
from diagnose.knowledge.words import local_day
from diagnose.quantities import to_si
from diagnose.quantities.show import Shown, decimal

if TYPE_CHECKING:
    from diagnose.calls.call import Call

PLAN = "Plan this at the next visit"
_WIDTH, _HEIGHT = 58, 9


def trend_in_words(trend: Trend, system: Shown = "us") -> str:
    """How a check changes, where it stands, and when it meets its limit, in a few sentences."""
    line, last = trend.fit.line, trend.readings[-1]
    way = "more" if line.slope > 0 else "less"
    error = student(CONFIDENCE, trend.fit.readings - 2) * line.slope_error
    step, give = (_change(trend.check, size, error, system) for size in (abs(line.slope), error))
    said = f"{trend.check.text}: {step} {way} a year, give or take {give}, by {len(trend.readings)} readings since "
    said += f"{_day(trend.readings[0].at)}; {_value(trend, last.value, system)} on {_day(last.at)}."
    met = _met_in_words(trend, system)
    return f"{said} It {met}." if met else said


def _met_in_words(trend: Trend, system: Shown) -> str:
    """When a check meets its limit, as the end of a sentence; nothing where that cannot be told."""
    if trend.is_past and trend.check.limit is not None:
        low, high = trend.check.limit
        crossed = low if trend.readings[-1].value < low else high
        return f"is past its limit of {_value(trend, crossed, system)}"
    if trend.limit is None:
        return ""
    limit = f"its limit of {_value(trend, trend.limit, system)}"
    if trend.reached is None:
        return ""
    soonest, latest = trend.day(trend.reached.soonest), trend.day(trend.reached.latest)
    likeliest = trend.day(trend.reached.likeliest)
    if soonest is None:
        return ""
    if latest is None or likeliest is None:
        return f"reaches {limit} no sooner than {_month(soonest)}"
    held = f"{100 * CONFIDENCE:.0f} times in 100"
    return f"reaches {limit} about {_month(likeliest)}, {held} between {_month(soonest)} and {_month(latest)}"


def due(trends: Iterable[Trend], today: datetime, system: Shown = "us") -> list[str]:
    """What is to be planned for the next visit, a line each."""
    return [f"{trend.check.text}: {_met_in_words(trend, system)}." for trend in trends if trend.is_due(today)]


def due_at(call: Call, system: Shown = "us") -> list[str]:
    """What is to be planned for the next visit to the door of a call, as it was known at its last entry."""
    return due(trends_at(call), datetime.fromisoformat(call.state.last_at), system)


def trend_lines(trends: Sequence[Trend], today: datetime, system: Shown = "us") -> list[Told]:
    """What changes at a door, each with its picture, and what of it is due; nothing where nothing changes."""
    lines: list[Told] = []
    for trend in trends:
        lines.append(Told("item", trend_in_words(trend, system)))
        lines += [Told("drawn", row) for row in drawn(trend, system)]
    planned = due(trends, today, system)
    if lines:
        lines.insert(0, Told("heading", "What changes at this door"))
    if planned:
        lines += [Told("heading", PLAN), *(Told("item", text) for text in planned)]
    return lines


def drawn(trend: Trend, system: Shown = "us") -> list[str]:
    """The readings ``o``, the line ``.`` and the limit ``-`` over time, in plain characters, at most 72 wide."""
    frame = _Frame(trend)
    marks = [_value(trend, value, system) for value in (frame.top, frame.bottom)]
    margin = max(map(len, marks)) + 1
    rows = [[" "] * _WIDTH for _ in range(_HEIGHT)]

    def put(years: float, value: float, mark: str) -> None:
        column, row = round(frame.along(years) * (_WIDTH - 1)), round((1 - frame.up(value)) * (_HEIGHT - 1))
        if 0 <= row < _HEIGHT and 0 <= column < _WIDTH:
            rows[row][column] = mark

    for column in range(_WIDTH):
        years = frame.start + (frame.end - frame.start) * column / (_WIDTH - 1)
        if trend.limit is not None:
            put(years, trend.limit, "-")
        put(years, trend.fit.at(years), ".")
    for reading in trend.readings:
        put(trend.years(reading.at), reading.value, "o")
    heads = [marks[0], *[""] * (_HEIGHT - 2), marks[1]]
    first, last = _month(trend.day(frame.start) or trend.readings[0].at), _month(frame.last)
    foot = f"{first}{last:>{max(_WIDTH - len(first), len(last) + 1)}}"
    lines = [f"{head:>{margin}} |{''.join(row).rstrip()}" for head, row in zip(heads, rows, strict=True)]
    return [*lines, f"{'':{margin}} +{'-' * _WIDTH}", f"{'':{margin}}  {foot}"]


def trend_svg(trend: Trend, system: Shown = "us") -> str:
    """The readings, the line with its band, and the limit over time, as a drawing that needs nothing beside itself."""
    frame, width, height, left, foot = _Frame(trend), 560, 190, 80, 22

    def x(years: float) -> float:
        return round(left + frame.along(years) * (width - left - 10), 1)

    def y(value: float) -> float:
        return round(10 + (1 - frame.up(value)) * (height - foot - 20), 1)

    def text(where: tuple[float, float], said: str, anchor: str) -> str:
        return f'<text x="{where[0]}" y="{where[1]}" text-anchor="{anchor}">{html.escape(said)}</text>'

    def stroke(begin: tuple[float, float], end: tuple[float, float], dash: str = "") -> str:
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return f'<line x1="{begin[0]}" y1="{begin[1]}" x2="{end[0]}" y2="{end[1]}" stroke="#111"{dashed}/>'

    times = [frame.start + (frame.end - frame.start) * part / 40 for part in range(41)]
    above = [(x(t), y(trend.fit.at(t) + trend.fit.band(t))) for t in times]
    below = [(x(t), y(trend.fit.at(t) - trend.fit.band(t))) for t in reversed(times)]
    band = " ".join(f"{a},{b}" for a, b in (*above, *below))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" font-size="11"'
        f' font-family="sans-serif"><title>{html.escape(trend.check.text)}</title>',
        f'<clipPath id="in-{trend.check.id}"><rect x="{left}" y="4" width="{width - left - 6}"'
        f' height="{height - foot - 4}"/></clipPath><g clip-path="url(#in-{trend.check.id})">',
        f'<polygon points="{band}" fill="#ddd"/>',
        stroke((x(frame.start), y(trend.fit.at(frame.start))), (x(frame.end), y(trend.fit.at(frame.end)))),
        *(f'<circle cx="{x(trend.years(r.at))}" cy="{y(r.value)}" r="3" fill="#111"/>' for r in trend.readings),
        "</g>",
        stroke((left, 4), (left, height - foot)),
        stroke((left, height - foot), (width - 6, height - foot)),
        text((left - 5, y(frame.top) + 4), _value(trend, frame.top, system), "end"),
        text((left - 5, y(frame.bottom) + 4), _value(trend, frame.bottom, system), "end"),
        text((left, height - 6), _month(trend.readings[0].at), "start"),
        text((width - 6, height - 6), _month(frame.last), "end"),
    ]
    if trend.limit is not None:
        parts.append(stroke((left, y(trend.limit)), (width - 6, y(trend.limit)), "6 4"))
        parts.append(text((left + 6, y(trend.limit) - 4), "limit", "start"))
    return "".join(parts) + "</svg>"


class _Frame:
    """What a picture shows: from the first reading to the date of the limit, and all values on the way."""

    def __init__(self, trend: Trend) -> None:
        last = trend.years(trend.readings[-1].at)
        met = trend.reached.latest if trend.reached is not None else last
        # The readings take a third of the width at least.
        self.start, self.end = 0.0, min(max(met, last * 1.1), last * 3)
        self.last = trend.day(self.end) or trend.readings[-1].at
        values = [reading.value for reading in trend.readings]
        values += [trend.fit.at(self.start), trend.fit.at(self.end)]
        values += [trend.limit] if trend.limit is not None else []
        self.bottom, self.top = min(values), max(values)

    def along(self, years: float) -> float:
        return (years - self.start) / (self.end - self.start)

    def up(self, value: float) -> float:
        return (value - self.bottom) / (self.top - self.bottom)


def _value(trend: Trend, value: float, system: Shown) -> str:
    return computed_in_words(trend.check, value, trend.fit.line.residual_sd, system)


def _change(check: Check, size: float, error: float, system: Shown) -> str:
    """A width, to two figures of its error; in degrees an offset between scales must not come in."""
    step = 10.0 ** (math.floor(math.log10(error)) - 1) if error else 0.0
    if to_si(0.0, check.unit):
        return f"{decimal(size, step)} {check.unit}"
    return in_words(check, (to_si(size, check.unit),), "", system, step)


def _day(at: datetime) -> str:
    return local_day(at.isoformat())


def _month(at: datetime) -> str:
    return f"{at.astimezone():%b %Y}"
