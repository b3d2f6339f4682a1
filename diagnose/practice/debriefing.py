"""A debriefing section by section, said once for every face: a page renders its parts, and so does a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Literal, NamedTuple

from diagnose.calls.words import percent, title
from diagnose.knowledge.words import about, minutes
from diagnose.practice import acts
from diagnose.practice.debrief import HABIT_TITLES, Debrief, chains, sparkline, turns, wrong_in_words
from diagnose.practice.judging import WRONG_FROM, Judged, told_in_words

NOTICE = (
    "This was practice on a door that does not exist. At a real one local codes, the maker's instructions and licensed "
    "practice come first."
)


class Part(NamedTuple):
    """A line. ``lead`` stands before it: a number where it is a ``step``, else what it is about, in bold on a page."""

    kind: Literal["heading", "text", "item", "step"]
    text: str
    lead: str = ""


class Rows(NamedTuple):
    """A table; where there is none, what it holds in ``lines``."""

    head: tuple[str, ...]
    rows: list[tuple[str, ...]]
    lines: list[str]


class Plot(NamedTuple):
    """Where a page draws how belief moved."""


Section = Iterator[Part | Rows | Plot]


def debriefing(found: Debrief) -> Section:
    """Every section that has something to say; the first heading is the whole's."""
    of_call: tuple[Callable[[Debrief], Section], ...] = (_first_wrong, _path, _own, _belief)
    on_walk = bool(found.session.scenario.walk)
    ways = (_turns, _own) if on_walk else of_call
    for section in (_head, _wrong if on_walk else _cause, _score, _better, *ways, _parts, _cautions, _proofs):
        yield from section(found)


def _head(found: Debrief) -> Section:
    session, state = found.session, found.session.call.state
    said = f"{state.outcome.capitalize()}." if state.outcome else "Not brought to an end."
    money = f"{session.trees.costs.currency}{session.money:.0f}"
    yield Part("heading", f"Debriefing: {session.scenario.title}")
    where = f"{session.scenario.site}, {session.scenario.door}."
    yield Part("text", f"{where} {said} {minutes(session.clock)}, {money} of parts.")


def _cause(found: Debrief) -> Section:
    causes = found.session.trees.causes
    yield Part("heading", "What was wrong")
    for cause in found.session.scenario.causes:
        yield Part("item", causes[cause].explain, f"{causes[cause].title}.")
    yield from (Part("item", f"In the chain of functions: {place}") for place in chains(found.session))
    for item in found.judged:
        if item.done.broke:
            yield Part("item", f"{causes[item.done.broke].title}: broken on the way.")
    yield from _teaches(found)


def _wrong(found: Debrief) -> Section:
    yield Part("heading", "What was done wrongly")
    for each in wrong_in_words(found.session):
        said = " ".join(filter(None, (each.found, each.passed)))
        yield Part("item", f"{said} At a door handed over so: {each.comes}", f"{each.what}.")
    yield from _teaches(found)


def _teaches(found: Debrief) -> Section:
    if found.session.scenario.teaches:
        yield Part("text", found.session.scenario.teaches, "It teaches:")


def _score(found: Debrief) -> Section:
    rows: list[tuple[str, ...]] = []
    for part in found.score.parts:
        points = "not shown" if part.points is None else f"{part.points:.0f} of {part.most:.0f}"
        rows.append((HABIT_TITLES[part.habit], points, "; ".join(part.lost_by) or "nothing lost"))
    if found.score.hints:
        rows.append(("Hints", f"-{found.score.hints:.0f}", "their price"))
    yield Part("heading", f"Score: {found.score.total:.0f} of 100")
    yield Rows(("Part", "Points", "Lost by"), rows, [f"{habit}: {points}: {lost}" for habit, points, lost in rows])


def _better(found: Debrief) -> Section:
    if found.better:
        yield Part("heading", "To do better")
        yield from _steps(found.better)


def _turns(found: Debrief) -> Section:
    rows = [(f"{item.done.clock:.0f}", item.text, item.fault) for item in turns(found.judged)]
    lines = [f"{at} min: {text}{f' ← {fault}' if fault else ''}" for at, text, fault in rows]
    yield Part("heading", "Where it turned")
    yield Rows(("At min", "Your way", "What was wrong with it"), list(rows), lines)


def _first_wrong(found: Debrief) -> Section:
    item = found.first_wrong
    if item is None:
        yield Part("heading", "Where it went wrong")
        yield Part("text", "Nowhere. Every step was as good as the best from what was known.")
        return
    yield Part("heading", f"Where it first went wrong: step {found.judged.index(item) + 1}")
    yield Part("text", "", item.text)
    yield Part("text", item.fault)
    if item.best and item.loss >= WRONG_FROM:
        yield Part("text", f"{item.best} {item.why}", "Better from the same knowledge:")


def _path(found: Debrief) -> Section:
    yield Part("heading", "Your way beside the best")
    yield Part("text", "Lost: what beginning with that step costs on the average, above the best, in minutes' worth.")
    head = ("", "At min", "Your way", "Min", "What it told", "Best from the same knowledge", "Lost min")
    numbered = list(enumerate(found.judged, start=1))
    yield Rows(head, [_row(*each) for each in numbered], [_line(*each) for each in numbered])


def _row(number: int, item: Judged) -> tuple[str, ...]:
    no_choice = isinstance(item.done.act, (acts.Enter, acts.CallIn, acts.AskFor, acts.TakeBack))
    return (
        str(number),
        f"{item.done.clock:.0f}",
        item.text,
        f"{item.done.minutes:.0f}",
        told_in_words(item.gained),
        item.best or ("" if no_choice else "the same, or as good"),
        f"{item.loss:.0f}" if item.loss >= 0.5 else "",
    )


def _line(number: int, item: Judged) -> str:
    told = f"; {said}" if (said := told_in_words(item.gained)) else ""
    better = f" ← better: {item.best} (lost {about(item.loss)})" if item.best else ""
    return f"{number}. {minutes(item.done.clock)}: {item.text}{told}{better}"


def _own(found: Debrief) -> Section:
    if found.own:
        yours = f"yours took {minutes(found.session.clock)}{', without all of them' if found.missing_proofs else ''}"
        said = f"The best way through this door, proofs and all: {minutes(found.own_minutes)}; {yours}"
        yield Part("heading", said)
        yield from _steps(found.own)


def _belief(found: Debrief) -> Section:
    yield Part("heading", "How sure you could be of the true cause, act by act")
    for cause in dict.fromkeys(cause for point in found.points for cause in point.belief):
        held = [point.belief[cause] for point in found.points if cause in point.belief]
        named = title(found.session.trees, "causes", cause)
        moved = f"from {percent(held[0])} to {percent(held[-1])}"
        yield Part("item", f"{sparkline(found.points, cause)}  {named}, {moved}")
    yield Plot()


def _parts(found: Debrief) -> Section:
    trees = found.session.trees
    forgiven = ": the best plan would have risked it too, it costs no points"
    yield from _listed(
        "Parts bought for nothing",
        (
            f"{trees.remedies[item.remedy].title}, {trees.costs.currency}{item.money:.0f}"
            f"{forgiven if item.forgiven else ''}"
            for item in found.wasted
        ),
    )


def _cautions(found: Debrief) -> Section:
    told = [(item, each.told) for item in found.judged for each in item.done.happened]
    yield from _listed(
        "Cautions passed over", (f"Minute {item.done.clock:.0f}, {item.text}: {said}" for item, said in told)
    )


def _proofs(found: Debrief) -> Section:
    yield from _listed("Proofs missed", (found.session.trees.proofs[name].title for name in found.missing_proofs))


def _listed(heading: str, texts: Iterable[str]) -> Section:
    yield Part("heading", heading)
    yield from (Part("item", text) for text in list(texts) or ["None."])


def _steps(texts: Iterable[str]) -> Section:
    yield from (Part("step", text, f"{number}.") for number, text in enumerate(texts, start=1))
