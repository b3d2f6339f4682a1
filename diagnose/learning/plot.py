"""The calibration plot, as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diagnose.reasoning.scoring import CalibrationBin


def calibration_svg(bins: Sequence[CalibrationBin]) -> str:
    """The calibration plot: what was said against what came true, with the diagonal it should lie on."""
    size, margin = 320, 44
    points = []
    for b in bins:
        x, y = margin + size * b.predicted, margin + size * (1 - b.came_true)
        radius = 2 + min(10.0, b.count**0.5 / 4)
        points.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="#256" fill-opacity="0.7">'
            f"<title>said {b.predicted:.2f}, came true {b.came_true:.2f}, {b.count} times</title></circle>"
        )
    low, high = margin, margin + size
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size + 2 * margin} {size + 2 * margin}" '
        'font-family="sans-serif" font-size="12">'
        f'<rect x="{low}" y="{low}" width="{size}" height="{size}" fill="none" stroke="#888"/>'
        f'<line x1="{low}" y1="{high}" x2="{high}" y2="{low}" stroke="#bbb" stroke-dasharray="4"/>'
        + "".join(points)
        + f'<text x="{low + size / 2}" y="{high + 32}" text-anchor="middle">said</text>'
        f'<text x="14" y="{low + size / 2}" text-anchor="middle" '
        f'transform="rotate(-90 14 {low + size / 2})">came true</text>'
        f'<text x="{low}" y="{high + 16}">0</text><text x="{high - 8}" y="{high + 16}">1</text></svg>\n'
    )
