"""What is said after a practice call: the path beside the best one, the score and its parts, and how belief moved.

Written once as Markdown; the page of HTML is made from it and holds its drawing, and nothing outside itself. What
comes from trees and scenarios is escaped on its way.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose import __version__
from diagnose.calls.call import Call
from diagnose.calls.markdown import escape, html_of, html_page, table
from diagnose.calls.words import percent, title
from diagnose.knowledge.words import minutes
from diagnose.practice import acts
from diagnose.practice.better import to_do_better
from diagnose.practice.bots import carry_through
from diagnose.practice.done import Done
from diagnose.practice.judging import WRONG_FROM, Judged, act_in_words, judge, told_in_words
from diagnose.practice.scenario import believed
from diagnose.practice.score import Score, Wasted, is_solved, score, wasted_parts
from diagnose.practice.session import Session
from diagnose.practice.simulated import planned
from diagnose.practice.walked import walked
from diagnose.reasoning.chain import place_of

HABIT_TITLES = {
    "safety": "Safety",
    "result": "Result",
    "order": "Order of steps",
    "thrift": "Thrift with parts",
    "instruments": "Reading instruments",
}
_BLOCKS = "▁▂▃▄▅▆▇█"
_PLOT = "\x00plot\x00"
NOTICE = (
    "This was practice on a door that does not exist. At a real one local codes, the maker's instructions and licensed "
    "practice come first."
)


@dataclass(frozen=True)
class Point:
    """How likely each true cause was held, by what the trainee knew ``minutes`` after the start."""

    minutes: float
    belief: dict[str, float]


@dataclass(frozen=True)
class Debrief:
    """All that is said afterwards. ``own`` is the program's own way through the same door, act by act."""

    session: Session
    judged: tuple[Judged, ...]
    score: Score
    first_wrong: Judged | None
    wasted: tuple[Wasted, ...]
    missing_proofs: tuple[str, ...]
    points: tuple[Point, ...]
    own: tuple[str, ...]
    own_minutes: float
    solved: bool
    # What to do better, at most three things.
    better: tuple[str, ...] = ()


def debrief(session: Session, *, own: bool = True) -> Debrief:
    """Look back on a session. ``own`` plays the same door the program's own way besides."""
    judged = tuple(judge(session))
    program = Session(session.trees, session.scenario, session.seed, session.consequences)
    if own:
        carry_through(program, planned)
    truth = set(session.scenario.causes)
    on_walk = bool(session.scenario.walk)
    start = Point(0.0, {} if on_walk else believed(_opening(session), truth))
    wasted, missing = tuple(wasted_parts(session, judged)), _missing_proofs(session)
    return Debrief(
        session,
        judged,
        score(session, judged),
        next((item for item in judged if item.is_wrong), None),
        wasted,
        missing,
        (start, *(Point(item.done.clock, dict(item.belief)) for item in judged)),
        tuple(
            act_in_words(session.trees, done)
            for done in program.done
            if isinstance(done.act, (acts.Mend, acts.TryDoor) if on_walk else (acts.Look, acts.Mend, acts.TryDoor))
            or _is_wrong(done)
        ),
        program.clock,
        is_solved(session),
        to_do_better(session, judged, wasted, missing),
    )


def _is_wrong(done: Done) -> bool:
    return isinstance(done.act, acts.DoJob) and done.act.came == "not right"


@dataclass(frozen=True)
class WrongTold:
    """Wrong work in words: ``what`` it was, ``found`` where and when, or what it was ``passed`` at, and what comes."""

    what: str
    found: str
    passed: str
    comes: str


def wrong_in_words(session: Session) -> list[WrongTold]:
    """Of a walk: each piece of wrong work, where it was found, what it was passed over at, and what comes of it."""
    trees, told = session.trees, []
    for each in walked(session).wrong:
        cause = trees.causes[each.cause]
        if each.found is None:
            found = "Not found."
        else:
            at = f"minute {each.found.clock:.0f}, {act_in_words(trees, each.found).rstrip('.')}"
            found = f"Found{' only by a proof' if each.by_proof else ''}: {at}."
        if each.mended is not None:
            found += f" Repaired: minute {each.mended:.0f}."
        jobs = [
            f"{trees.jobs[d.act.job].title} (minute {d.clock:.0f})"
            for d in each.passed
            if isinstance(d.act, acts.DoJob)
        ]
        passed = f"Passed over at: {'; '.join(jobs)}." if jobs else ""
        comes = session.scenario.wrong[each.cause].comes
        told.append(WrongTold(cause.title, found, passed, comes))
    return told


def turns(judged: Sequence[Judged]) -> list[Judged]:
    """Of a walk: the acts at which it turned, which are all but work that went as it should."""
    kinds = (acts.LookInto, acts.Mend, acts.TryDoor, acts.Finish)
    return [
        item
        for item in judged
        if item.fault
        or isinstance(item.done.act, kinds)
        or _is_wrong(item.done)
        or (isinstance(item.done.act, acts.Prove) and item.done.worked is not True)
    ]


def _missing_proofs(session: Session) -> tuple[str, ...]:
    """The proofs that were due and not passed, those of what was repaired first.

    None on a door that was left out of service with its fault in it.
    """
    left = session.call.state.outcome == "left out of service" and bool(session.door.faults)
    if left or session.call.refusal():
        return ()
    remedies = session.trees.remedies
    own = {proof for item in session.call.state.tries for proof in remedies[item.remedy].proofs}
    return tuple(sorted((proof.id for proof in session.call.open_proofs()), key=lambda proof: proof not in own))


def chains(session: Session) -> list[str]:
    """Where along the chain of functions each true cause lies, a line each."""
    state, causes = session.call.state, session.scenario.causes
    places = [place_of(session.trees, session.scenario.facts, state.symptoms, cause) for cause in causes]
    return [place for place in places if place]


def _opening(session: Session) -> Call:
    return Call(session.trees, history=session.call.events[: session.opening])


def sparkline(points: Sequence[Point], cause: str) -> str:
    """Belief in a cause over the acts, a block for each; it ends where the cause was removed."""
    values = [point.belief[cause] for point in points if cause in point.belief]
    return "".join(_BLOCKS[min(int(value * len(_BLOCKS)), len(_BLOCKS) - 1)] for value in values)


def markdown_debrief(found: Debrief) -> str:
    return _Writer(found).text().replace(f"{_PLOT}\n", "")


def html_debrief(found: Debrief) -> str:
    """One page with its own style and drawing, and no script, image or link."""
    before, _, after = _Writer(found).text().partition(f"{_PLOT}\n")
    body = f"{html_of(before)}{svg_plot(found)}{html_of(after)}"
    return html_page(f"Debriefing: {found.session.scenario.title}", body, _STYLE)


class _Writer:
    """Each method writes one section, or nothing where there is nothing to say."""

    def __init__(self, found: Debrief) -> None:
        self.found = found
        self.session = found.session
        self.scenario = found.session.scenario
        self.trees = found.session.trees

    def text(self) -> str:
        of_call = (self._first_wrong, self._path, self._own, self._belief)
        on_walk = bool(self.scenario.walk)
        sections = (
            self._head,
            self._wrong if on_walk else self._cause,
            self._score,
            self._better,
            *((self._turns, self._own) if on_walk else of_call),
            self._parts,
            self._cautions,
            self._proofs,
            self._foot,
        )
        return "\n".join(line for section in sections for line in section()) + "\n"

    def _head(self) -> list[str]:
        state = self.session.call.state
        said = f"{state.outcome.capitalize()}." if state.outcome else "Not brought to an end."
        money = f"{self.trees.costs.currency}{self.session.money:.0f}"
        return [
            f"# Debriefing: {escape(self.scenario.title)}",
            "",
            f"{escape(self.scenario.site)}, {escape(self.scenario.door)}. {escape(said)} "
            f"{minutes(self.session.clock)}, {escape(money)} of parts.",
            "",
        ]

    def _cause(self) -> list[str]:
        lines = ["## What was wrong", ""]
        for cause in self.scenario.causes:
            entry = self.trees.causes[cause]
            lines.append(f"- **{escape(entry.title)}.** {escape(entry.explain)}".rstrip())
            state = self.session.call.state
            if place := place_of(self.trees, state.facts, state.symptoms, cause):
                lines.append(f"  In the chain of functions: {escape(place)}")
        for item in self.found.judged:
            if item.done.broke:
                lines.append(f"- {escape(self.trees.causes[item.done.broke].title)}: broken on the way.")
        lines.append("")
        if self.scenario.teaches:
            lines += [f"**What it teaches:** {escape(self.scenario.teaches)}", ""]
        return lines

    def _wrong(self) -> list[str]:
        lines = ["## What was done wrongly", ""]
        for each in wrong_in_words(self.session):
            said = " ".join(escape(text) for text in (each.found, each.passed) if text)
            lines.append(f"- **{escape(each.what)}.** {said} At a door handed over so: {escape(each.comes)}")
        lines.append("")
        if self.scenario.teaches:
            lines += [f"**What it teaches:** {escape(self.scenario.teaches)}", ""]
        return lines

    def _turns(self) -> list[str]:
        rows = [(f"{item.done.clock:.0f}", escape(item.text), escape(item.fault)) for item in turns(self.found.judged)]
        return ["## Where it turned", "", *table(("At min", "Your way", "What was wrong with it"), rows), ""]

    def _score(self) -> list[str]:
        rows = []
        for part in self.found.score.parts:
            points = "not shown" if part.points is None else f"{part.points:.0f} of {part.most:.0f}"
            rows.append((HABIT_TITLES[part.habit], points, escape("; ".join(part.lost_by)) or "nothing lost"))
        if self.found.score.hints:
            rows.append(("Hints", f"-{self.found.score.hints:.0f}", "their price"))
        return [f"## Score: {self.found.score.total:.0f} of 100", "", *table(("Part", "Points", "Lost by"), rows)]

    def _better(self) -> list[str]:
        lines = [f"{number}. {escape(text)}" for number, text in enumerate(self.found.better, start=1)]
        return ["", "## To do better", "", *lines, ""] if lines else []

    def _first_wrong(self) -> list[str]:
        item = self.found.first_wrong
        if item is None:
            return [
                "## Where it went wrong",
                "",
                "Nowhere: every step was as good as the best from what was known.",
                "",
            ]
        number = self.found.judged.index(item) + 1
        lines = ["## Where it first went wrong", "", f"Step {number}: **{escape(item.text)}**", "", escape(item.fault)]
        if item.best and item.loss >= WRONG_FROM:
            lines += ["", f"Better from the same knowledge: **{escape(item.best)}** {escape(item.why)}"]
        return [*lines, ""]

    def _path(self) -> list[str]:
        rows = []
        for number, item in enumerate(self.found.judged, start=1):
            rows.append(
                (
                    str(number),
                    f"{item.done.clock:.0f}",
                    escape(item.text),
                    f"{item.done.minutes:.0f}",
                    told_in_words(item.gained),
                    escape(item.best) if item.best else "" if _is_no_choice(item) else "the same, or as good",
                    f"{item.loss:.0f}" if item.loss >= 0.5 else "",
                )
            )
        head = ("", "At min", "Your way", "Min", "What it told", "Best from the same knowledge", "Lost min")
        return [
            "## Your way beside the best",
            "",
            "Lost: what beginning with that step costs on the average, above the best, in minutes' worth.",
            "",
            *table(head, rows),
        ]

    def _belief(self) -> list[str]:
        lines = ["## How sure one could be of the true cause", ""]
        causes = list(dict.fromkeys(cause for point in self.found.points for cause in point.belief))
        for cause in causes:
            held = [point.belief[cause] for point in self.found.points if cause in point.belief]
            lines += [
                f"{escape(title(self.trees, 'causes', cause))}: {sparkline(self.found.points, cause)} "
                f"from {percent(held[0])} to {percent(held[-1])}",
                "",
            ]
        return [*lines, _PLOT]

    def _parts(self) -> list[str]:
        if not self.found.wasted:
            return ["## Parts bought for nothing", "", "None.", ""]
        currency = self.trees.costs.currency
        lines = ["## Parts bought for nothing", ""]
        for item in self.found.wasted:
            forgiven = ": the best plan would have risked it too, it costs no points" if item.forgiven else ""
            name = escape(self.trees.remedies[item.remedy].title)
            lines.append(f"- {name}, {escape(currency)}{item.money:.0f}{forgiven}")
        return [*lines, ""]

    def _cautions(self) -> list[str]:
        lines = []
        for item in self.found.judged:
            for each in item.done.happened:
                lines.append(f"- Minute {item.done.clock:.0f}, {escape(item.text)}: {escape(each.told)}")
        return ["## Cautions passed over", "", *(lines or ["None."]), ""]

    def _proofs(self) -> list[str]:
        missing = [f"- {escape(self.trees.proofs[name].title)}" for name in self.found.missing_proofs]
        return ["## Proofs missed", "", *(missing or ["None."]), ""]

    def _own(self) -> list[str]:
        if not self.found.own:
            return []
        lines = [f"{number}. {escape(text)}" for number, text in enumerate(self.found.own, start=1)]
        yours, best = self.session.clock, self.found.own_minutes
        said = f"The same door, the best way from what one knows at each step: {minutes(best)}, proofs included; "
        without = ", without all of them" if self.found.missing_proofs else ""
        return ["## The best way", "", f"{said}yours took {minutes(yours)}{without}.", "", *lines, ""]

    def _foot(self) -> list[str]:
        return ["---", "", f"{NOTICE} Made by diagnose {__version__}, seed {self.session.seed}."]


def _is_no_choice(item: Judged) -> bool:
    return isinstance(item.done.act, (acts.Enter, acts.CallIn, acts.AskFor, acts.TakeBack))


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
