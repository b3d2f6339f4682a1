"""What a question shows: a bar for the healthy door and one for each cause that changes it, parted by answers."""

from __future__ import annotations

import textwrap
from html import escape

from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.model import Check, Trees

_COLOURS = ("#56B4E9", "#E69F00", "#009E73", "#CC79A7", "#F0E442", "#D55E00", "#0072B2", "#999999")
_FONT = "font-family='DejaVu Sans, Verdana, sans-serif'"
_LEFT, _BAR, _ROW = 330, 720, 38


def states_of(trees: Trees, check: Check) -> list[tuple[str, Shares]]:
    """The healthy state and each cause's. Raises ``ValueError`` for a check that says nothing of a healthy door."""
    if not isinstance(check.healthy, Shares):
        raise ValueError(f"'{check.id}' does not say what a healthy door shows: it only comes before others.")
    changed = [(cause.title, cause.signs.get(check.id)) for cause in trees.causes.values()]
    return [("healthy", check.healthy), *((title, sign) for title, sign in changed if isinstance(sign, Shares))]


def question_text(trees: Trees, check: Check, width: int = 80) -> str:
    """For a terminal: each state with its answers, the likeliest first."""
    lines = [*textwrap.wrap(check.text, width), ""]
    for title, state in states_of(trees, check):
        lines += textwrap.wrap(title, width)
        for answer, share in sorted(state.shares.items(), key=lambda item: -item[1]):
            bar = "█" * round(share * 30)
            lines.append(f"  {share * 100:4.0f} %  {bar:<30}  {textwrap.shorten(answer, width - 42, placeholder='…')}")
    return "\n".join(lines) + "\n"


def question_svg(trees: Trees, check: Check) -> str:
    """As SVG, with the answers by colour."""
    states = states_of(trees, check)
    titles = textwrap.wrap(check.text, 110)
    legend = 34 + 20 * len(titles)
    top = legend + 18 * ((len(check.answers) + 2) // 3) + 16
    height, width = top + _ROW * len(states) + 20, 30 + _LEFT + _BAR + 40
    colours = {answer: _COLOURS[i % len(_COLOURS)] for i, answer in enumerate(check.answers)}
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' width='{width}' height='{height}' viewBox='0 0 {width} {height}'>",
        f"<title>{escape(check.text)}</title><rect width='100%' height='100%' fill='#ffffff'/>",
    ]
    for i, line in enumerate(titles):
        parts.append(f"<text x='30' y='{32 + 20 * i}' font-size='16' font-weight='bold' {_FONT}>{escape(line)}</text>")
    for i, (answer, colour) in enumerate(colours.items()):
        left, y = 30 + 350 * (i % 3), legend + 18 * (i // 3)
        parts.append(f"<rect x='{left}' y='{y - 10}' width='12' height='12' fill='{colour}'/>")
        parts.append(f"<text x='{left + 18}' y='{y}' font-size='12' {_FONT}>{escape(answer)}</text>")
    for i, (title, state) in enumerate(states):
        y = top + _ROW * i
        for j, line in enumerate(textwrap.wrap(title, 46)[:2]):
            parts.append(f"<text x='30' y='{y + 12 + 14 * j}' font-size='12' {_FONT}>{escape(line)}</text>")
        x = 30.0 + _LEFT
        for answer in check.answers:
            wide = _BAR * state.shares[answer]
            said = f"{escape(answer)}: {100 * state.shares[answer]:.0f} %"
            parts.append(
                f"<rect x='{x:.1f}' y='{y}' width='{wide:.1f}' height='24' fill='{colours[answer]}' stroke='#ffffff'>"
                f"<title>{said}</title></rect>"
            )
            if wide > 34:
                parts.append(
                    f"<text x='{x + wide / 2:.1f}' y='{y + 16}' font-size='11' text-anchor='middle' {_FONT}>"
                    f"{100 * state.shares[answer]:.0f} %</text>"
                )
            x += wide
    return "\n".join([*parts, "</svg>", ""])
