"""How belief in the true causes moved over a practice, drawn as SVG."""

from __future__ import annotations

import html

from diagnose.calls.words import title
from diagnose.practice.debrief import Debrief

_WIDE, _HIGH, _LEFT, _TOP = 640.0, 180.0, 44.0, 10.0
_LOOKS = (("#005f9e", ""), ("#a04000", "6 3"), ("#5a5a5a", "2 3"))


def svg_plot(found: Debrief) -> str:
    """Belief in each true cause over the minutes, as steps: it holds until something new is known."""
    last = max(found.points[-1].minutes, 1.0)

    def x(minutes: float) -> float:
        return _LEFT + minutes / last * _WIDE

    def y(share: float) -> float:
        return _TOP + (1 - share) * _HIGH

    parts = []
    for share in (0.0, 0.5, 1.0):
        parts.append(f'<line x1="{_LEFT}" x2="{_LEFT + _WIDE}" y1="{y(share):.1f}" y2="{y(share):.1f}" stroke="#ccc"/>')
        parts.append(f'<text x="{_LEFT - 6}" y="{y(share) + 4:.1f}" text-anchor="end">{100 * share:.0f} %</text>')
    for at in (0.0, last / 2, last):
        parts.append(f'<text x="{x(at):.1f}" y="{_TOP + _HIGH + 18:.1f}" text-anchor="middle">{at:.0f} min</text>')
    causes = list(dict.fromkeys(cause for point in found.points for cause in point.belief))
    for number, cause in enumerate(causes):
        colour, dashes = _LOOKS[number % len(_LOOKS)]
        path, before = [], 0.0
        for point in found.points:
            if cause not in point.belief:
                path.append(f"L{x(point.minutes):.1f} {y(before):.1f}")
                break
            if path:
                path.append(f"L{x(point.minutes):.1f} {y(before):.1f}")
            before = point.belief[cause]
            path.append(f"{'L' if path else 'M'}{x(point.minutes):.1f} {y(before):.1f}")
        parts.append(
            f'<path d="{" ".join(path)}" fill="none" stroke="{colour}" stroke-width="2" stroke-dasharray="{dashes}"/>'
        )
        name = html.escape(title(found.session.trees, "causes", cause))
        parts.append(
            f'<text x="{_LEFT}" y="{_TOP + _HIGH + 40 + 18 * number:.1f}" fill="{colour}">'
            f"{'- - ' if dashes else '— '}{name}</text>"
        )
    height = _TOP + _HIGH + 50 + 18 * max(len(causes) - 1, 0)
    box = f'viewBox="0 0 {_LEFT + _WIDE + 40:.0f} {height:.0f}"'
    drawn = "\n".join(parts)
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box} font-family="sans-serif" font-size="12">\n{drawn}\n</svg>\n'
