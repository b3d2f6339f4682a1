"""What a reading shows: a row for the healthy door and one for each cause that changes it, over one axis.

Densities are those of the number on the display: the spread of the true value, widened by the instrument's error.
Each row has its own height, so that narrow and wide states can both be seen.
"""

from __future__ import annotations

import itertools
import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from diagnose.knowledge import distributions as dist
from diagnose.knowledge.model import Check, Trees
from diagnose.reasoning.situation import instrument_error
from diagnose.review.weighing import middle_of

# A span this wide, of values that are all above zero, is drawn by powers of ten.
_WIDE = 60.0
_BLOCKS = " ▁▂▃▄▅▆▇█"
_FONT = "font-family='DejaVu Sans, Verdana, sans-serif'"
_LABEL, _PLOT, _ROW = 330, 720, 44


@dataclass(frozen=True)
class Axis:
    """From ``low`` to ``high`` in the check's unit, evenly or by powers of ten."""

    low: float
    high: float
    powers: bool

    def at(self, share: float) -> float:
        """The value at a share of the axis's length."""
        if self.powers:
            return float(self.low * (self.high / self.low) ** share)
        return self.low + (self.high - self.low) * share

    def share(self, value: float) -> float:
        """How far along the axis a value stands; below 0 and above 1 outside of it."""
        if not self.powers:
            return (value - self.low) / (self.high - self.low)
        return math.log(value / self.low) / math.log(self.high / self.low) if value > 0 else -1.0

    def marks(self, most: int = 8) -> list[float]:
        """Round values to write below the axis."""
        if self.powers:
            first, last = math.ceil(math.log10(self.low) - 1e-9), math.floor(math.log10(self.high) + 1e-9)
            skip = max(1, math.ceil((last - first + 1) / most))
            return [10.0**power for power in range(first, last + 1, skip)]
        rough = (self.high - self.low) / most
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough)
        lowest, highest = math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9)
        return [round(step * i, 12) for i in range(lowest, highest + 1)]


@dataclass(frozen=True)
class Row:
    """One state: what it is called, and the height of each cell of the axis, 0 to 1; ``over`` is what is beyond
    all the instrument can show."""

    title: str
    heights: tuple[float, ...]
    over: float


@dataclass(frozen=True)
class Reading:
    """Ready to be drawn. ``notes`` say the plausible range and the instrument; ``error`` is the instrument's standard
    error at ``middle``, the middle of the healthy readings."""

    title: str
    unit: str
    notes: tuple[str, ...]
    axis: Axis
    rows: tuple[Row, ...]
    plausible: tuple[float, float] | None
    middle: float
    error: float


def picture_of(trees: Trees, check: Check, cells: int) -> Reading:
    """What to draw of a check that is answered by a number. Raises ``ValueError`` for one without a healthy spread."""
    if check.healthy is None or isinstance(check.healthy, dist.Shares):
        raise ValueError(f"'{check.id}' has no spread to draw: it only feeds what is computed from it.")
    changed = [(cause.title, cause.signs[check.id]) for cause in trees.causes.values() if check.id in cause.signs]
    states = [("healthy", check.healthy), *changed]
    axis = _axis(check, [state for _, state in states])
    rows = tuple(_row(check, axis, title, state, cells) for title, state in states)
    middle = middle_of(check.healthy)
    error = instrument_error(check, middle)
    return Reading(check.text, check.unit, _notes(check), axis, rows, check.plausible, middle, error)


def _axis(check: Check, states: Sequence[dist.Distribution]) -> Axis:
    ends = [dist.extent(state, 3.0) for state in states if not isinstance(state, dist.Beyond)]
    finite = [bound for pair in ends for bound in pair if math.isfinite(bound)]
    low, high = (min(finite), max(finite)) if finite else check.plausible or (0.0, 1.0)
    positive = [bound for bound in finite if bound > 0]
    wide = bool(positive) and min(finite) >= 0 and max(positive) / min(positive) > _WIDE
    if wide and any(isinstance(part, (dist.LogNormal, dist.Outward)) for state in states for _, part in _shares(state)):
        bottom = max(min(positive), max(positive) / 1e9)
        return Axis(bottom / 1.3, max(positive) * 1.3, True)
    if check.plausible:
        # A spread's far tail beyond what can be read is not worth the paper.
        low, high = max(low, check.plausible[0]), min(high, check.plausible[1])
    if low >= high:
        low, high = check.plausible or (low - 1, low + 1)
    margin = 0.04 * (high - low)
    return Axis(low - margin, high + margin, False)


def _row(check: Check, axis: Axis, title: str, state: dist.Distribution, cells: int) -> Row:
    bounds = [axis.at(i / cells) for i in range(cells + 1)]
    masses = []
    for low, high in itertools.pairwise(bounds):
        error = instrument_error(check, (low + high) / 2)
        masses.append(max(0.0, dist.probability(state, low, high, error)))
    top = max(masses, default=0.0)
    over = sum(share for share, part in _shares(state) if isinstance(part, dist.Beyond))
    return Row(title, tuple(mass / top if top > 0 else 0.0 for mass in masses), over)


def _shares(state: dist.Distribution) -> tuple[tuple[float, dist.Distribution], ...]:
    return state.parts if isinstance(state, dist.Mixture) else ((1.0, state),)


def _notes(check: Check) -> tuple[str, ...]:
    notes = []
    if check.plausible:
        notes.append(f"plausible {_number(check.plausible[0])} to {_number(check.plausible[1])} {check.unit}".strip())
    middle = middle_of(check.healthy) if check.healthy is not None else math.inf
    if check.instrument and math.isfinite(middle):
        off = instrument_error(check, middle)
        said = f"standard error {off:.2g} {check.unit} at {_number(middle)} {check.unit}" if off else "taken as exact"
        notes.append(f"{check.instrument.title}, {said}")
    return tuple(notes)


def _number(value: float) -> str:
    return f"{value:,.6g}" if abs(value) < 1e6 else f"{value:,.0f}"


def reading_text(reading: Reading, width: int = 80) -> str:
    """For a terminal, ``width`` columns wide and as many cells as the rows of ``reading`` have."""
    cells = len(reading.rows[0].heights)
    label = width - cells - 2
    lines = [*textwrap.wrap(reading.title, width), *textwrap.wrap(" · ".join(reading.notes), width), ""]
    for row in reading.rows:
        title = textwrap.shorten(row.title, label - 1, placeholder="…")
        drawn = "".join(_block(height) for height in row.heights)
        lines.append(f"{title:<{label}}{drawn}{'▐ over' if row.over >= 0.5 else '▐' if row.over else ''}".rstrip())
    lines.append(" " * label + _ruler(reading.axis, cells))
    lines.append(" " * label + _numbers(reading.axis, cells) + f" {reading.unit}".rstrip())
    if any(row.over for row in reading.rows):
        lines.append("▐ over: more than the instrument can show")
    return "\n".join(lines) + "\n"


def _block(height: float) -> str:
    if height < 0.004:
        return " "
    return _BLOCKS[max(1, min(8, round(height * 8)))]


def _ruler(axis: Axis, cells: int) -> str:
    line = ["─"] * cells
    for mark in axis.marks():
        line[min(cells - 1, max(0, int(axis.share(mark) * cells)))] = "┴"
    return "".join(line)


def _numbers(axis: Axis, cells: int) -> str:
    line = [" "] * cells
    free = 0
    for mark in axis.marks():
        text = f"{mark:g}"
        start = min(cells - len(text), max(0, int(axis.share(mark) * cells) - len(text) // 2))
        if start >= free:
            line[start : start + len(text)] = text
            free = start + len(text) + 1
    return "".join(line).rstrip()


def reading_svg(reading: Reading) -> str:
    """As SVG: the healthy spread lies in grey under each cause's, and what is not plausible is shaded."""
    titles = textwrap.wrap(reading.title, 110)
    top = 64 + 20 * len(titles)
    height = top + _ROW * len(reading.rows) + 56
    width = 30 + _LABEL + _PLOT + 90
    bottom = top + _ROW * len(reading.rows)
    healthy = reading.rows[0]
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' width='{width}' height='{height}' viewBox='0 0 {width} {height}'>",
        f"<title>{escape(reading.title)}</title><rect width='100%' height='100%' fill='#ffffff'/>",
        *(
            f"<text x='30' y='{32 + 20 * i}' font-size='16' font-weight='bold' {_FONT}>{escape(line)}</text>"
            for i, line in enumerate(titles)
        ),
        f"<text x='30' y='{34 + 20 * len(titles)}' font-size='12' fill='#555555' {_FONT}>"
        f"{escape(' · '.join(reading.notes))}</text>",
        *_shaded(reading, top, bottom),
    ]
    for index, row in enumerate(reading.rows):
        base = top + _ROW * (index + 1) - 6
        parts += _label(row.title, base)
        if index:
            parts.append(f"<path d='{_outline(healthy, base)}' fill='#dddddd' stroke='none'/>")
        fill, line = ("#cfe8d8", "#007a52") if index == 0 else ("#f6cdb8", "#b44600")
        parts.append(
            f"<path d='{_outline(row, base)}' fill='{fill}' fill-opacity='0.75' stroke='{line}' stroke-width='1.3'/>"
        )
        parts.append(f"<path d='M{30 + _LABEL} {base}h{_PLOT}' stroke='#bbbbbb' stroke-width='0.6'/>")
        if row.over:
            x, tall = 30 + _LABEL + _PLOT + 8, (_ROW - 14) * row.over
            parts.append(f"<rect x='{x}' y='{base - tall:.1f}' width='10' height='{tall:.1f}' fill='{line}'/>")
            parts.append(f"<text x='{x + 14}' y='{base - 3}' font-size='11' {_FONT}>over range</text>")
    parts += _error_bar(reading, top)
    parts += _svg_axis(reading, bottom)
    return "\n".join([*parts, "</svg>", ""])


def _error_bar(reading: Reading, top: float) -> list[str]:
    """How far off the instrument may be, one standard error each way, above the healthy readings."""
    if not reading.error or not math.isfinite(reading.middle):
        return []
    low, high = (reading.axis.share(reading.middle + side * reading.error) for side in (-1, 1))
    if not 0 <= low < high <= 1:
        return []
    left, right = (30 + _LABEL + _PLOT * share for share in (low, high))
    return [
        f"<path d='M{left:.1f} {top - 6}v6m0 -3H{right:.1f}m0 -3v6' stroke='#333333' fill='none'>"
        f"<title>instrument, one standard error each way</title></path>"
    ]


def _label(title: str, base: float) -> list[str]:
    lines = textwrap.wrap(title, 46)[:2]
    return [
        f"<text x='30' y='{base - 4 - 14 * (len(lines) - 1 - i):.0f}' font-size='12' {_FONT}>{escape(line)}</text>"
        for i, line in enumerate(lines)
    ]


def _outline(row: Row, base: float) -> str:
    left, cells = 30 + _LABEL, len(row.heights)
    points = " ".join(
        f"L{left + _PLOT * (i + 0.5) / cells:.1f} {base - height * (_ROW - 14):.1f}"
        for i, height in enumerate(row.heights)
    )
    return f"M{left} {base:.1f} {points} L{left + _PLOT} {base:.1f}Z"


def _shaded(reading: Reading, top: float, bottom: float) -> list[str]:
    if reading.plausible is None:
        return []
    low, high = (min(1.0, max(0.0, reading.axis.share(bound))) for bound in reading.plausible)
    left = 30 + _LABEL
    spans = [(0.0, low), (high, 1.0)]
    return [
        f"<rect x='{left + _PLOT * start:.1f}' y='{top - 8}' width='{_PLOT * (end - start):.1f}' "
        f"height='{bottom - top + 8}' fill='#eeeeee'><title>not plausible</title></rect>"
        for start, end in spans
        if end > start
    ]


def _svg_axis(reading: Reading, bottom: float) -> list[str]:
    left = 30 + _LABEL
    parts = [f"<path d='M{left} {bottom + 2}h{_PLOT}' stroke='#333333'/>"]
    for mark in reading.axis.marks():
        x = left + _PLOT * reading.axis.share(mark)
        parts.append(f"<path d='M{x:.1f} {bottom + 2}v5' stroke='#333333'/>")
        parts.append(f"<text x='{x:.1f}' y='{bottom + 20}' font-size='11' text-anchor='middle' {_FONT}>{mark:g}</text>")
    unit = reading.unit or "number"
    said = f"{unit}, by powers of ten" if reading.axis.powers else unit
    middle = left + _PLOT / 2
    parts.append(
        f"<text x='{middle:.0f}' y='{bottom + 40}' font-size='12' text-anchor='middle' {_FONT}>{escape(said)}</text>"
    )
    return parts
