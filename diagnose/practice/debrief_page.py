"""A debriefing as Markdown, and as one page of HTML that holds its drawing and nothing outside itself.

What comes from trees and scenarios is escaped on its way.
"""

from __future__ import annotations

import html

from diagnose import __version__
from diagnose.calls.markdown import escape, html_of, html_page, table
from diagnose.calls.words import title
from diagnose.practice.debrief import Debrief
from diagnose.practice.debriefing import NOTICE, Part, Rows, debriefing

_PLOT = "\x00plot\x00"


def markdown_debrief(found: Debrief) -> str:
    return _markdown(found).replace(f"{_PLOT}\n", "")


def html_debrief(found: Debrief) -> str:
    """One page with its own style and drawing, and no script, image or link."""
    before, _, after = _markdown(found).partition(f"{_PLOT}\n")
    body = f"{html_of(before)}{svg_plot(found)}{html_of(after)}"
    return html_page(f"Debriefing: {found.session.scenario.title}", body, _STYLE)


def _markdown(found: Debrief) -> str:
    lines: list[str] = []
    for part in debriefing(found):
        match part:
            case Part("heading", text):
                lines += ["", f"{'##' if lines else '#'} {escape(text)}", ""]
            case Part("text", text, lead):
                lines += ["", f"{f'**{escape(lead)}** ' if lead else ''}{escape(text)}".rstrip(), ""]
            case Part("item", text, lead):
                lines.append(f"- {f'**{escape(lead)}** ' if lead else ''}{escape(text)}".rstrip())
            case Part(_, text, number):
                lines.append(f"{number} {escape(text)}")
            case Rows(head, rows):
                lines += table(head, [tuple(map(escape, row)) for row in rows])
            case _:
                lines += ["", _PLOT]
    foot = f"{NOTICE} Made by diagnose {__version__}, seed {found.session.seed}."
    return "\n".join([*lines[1:], "", "---", "", foot]) + "\n"


# --- the drawing --------------------------------------------------------------------------------------------------

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
    label = "Belief in the true cause over time"
    return (
        f'<svg viewBox="0 0 {_LEFT + _WIDE + 40:.0f} {height:.0f}" role="img" aria-label="{label}" font-size="12">\n'
        f"<title>{label}</title>\n" + "\n".join(parts) + "\n</svg>\n"
    )


_STYLE = """
body { max-width: 56rem; }
h1 + p { border: 0; padding: 0; }
svg { width: 100%; height: auto; font-family: inherit; }
@media print {
  body { max-width: none; }
  svg { break-inside: avoid; }
}
"""
