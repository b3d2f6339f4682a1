"""A debriefing as a document, section by section."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from diagnose import __version__
from diagnose.calls.document import Block, Document, Heading, Items, Line, Picture, soft, table
from diagnose.calls.words import percent, title
from diagnose.knowledge.words import minutes
from diagnose.practice import acts
from diagnose.practice.debrief import HABIT_TITLES, Debrief, chains, sparkline, turns, wrong_in_words
from diagnose.practice.debrief_plot import svg_plot
from diagnose.practice.judging import WRONG_FROM, Judged, told_in_words

NOTICE = (
    "This was practice on a door that does not exist. At a real one local codes, the maker's instructions and licensed "
    "practice come first."
)
Section = Iterator[Block]


def debriefing(found: Debrief) -> Document:
    """Every section that has something to say: how it came out first, the way there after it."""
    on_walk = bool(found.session.scenario.walk)
    first: list[Callable[[Debrief], Section]] = [_head, _wrong if on_walk else _cause, _score, _better]
    rest = [*((_turns, _own) if on_walk else (_first_wrong, _path, _own, _belief)), _parts, _cautions, _proofs]
    return Document(
        title=soft(f"Debriefing: {found.session.scenario.title}"),
        first=tuple(block for section in first for block in section(found)),
        rest=tuple(block for section in rest for block in section(found)),
        foot=f"{NOTICE} Made by diagnose {__version__}, seed {found.session.seed}.",
    )


def _head(found: Debrief) -> Section:
    session, state = found.session, found.session.call.state
    said = f"{state.outcome.capitalize()}." if state.outcome else "Not brought to an end."
    money = f"{session.trees.costs.currency}{session.money:.0f}"
    yield Heading(soft(f"Debriefing: {session.scenario.title}"), 1)
    where = f"{session.scenario.site}, {session.scenario.door}."
    yield Line(soft(f"{where} {said} {minutes(session.clock)}, {money} of parts."))


def _cause(found: Debrief) -> Section:
    causes = found.session.trees.causes
    told = [f"{causes[cause].title}. {causes[cause].explain}" for cause in found.session.scenario.causes]
    told += [f"In the chain of functions: {place}" for place in chains(found.session)]
    told += [f"{causes[item.done.broke].title}: broken on the way." for item in found.judged if item.done.broke]
    yield from _listed("What was wrong", told)
    yield from _teaches(found)


def _wrong(found: Debrief) -> Section:
    told = []
    for each in wrong_in_words(found.session):
        said = " ".join(filter(None, (f"{each.what}.", each.found, each.passed)))
        told.append(f"{said} At a door handed over so: {each.comes}")
    yield from _listed("What was done wrongly", told)
    yield from _teaches(found)


def _teaches(found: Debrief) -> Section:
    if found.session.scenario.teaches:
        yield Line(soft(f"It teaches: {found.session.scenario.teaches}"))


def _score(found: Debrief) -> Section:
    rows: list[tuple[str, ...]] = []
    for part in found.score.parts:
        points = "not shown" if part.points is None else f"{part.points:.0f} of {part.most:.0f}"
        rows.append((HABIT_TITLES[part.habit], points, "; ".join(part.lost_by) or "nothing lost"))
    if found.score.hints:
        rows.append(("Hints", f"-{found.score.hints:.0f}", "their price"))
    head = ("Part", "Points", "Lost by")
    yield from table(f"Score: {found.score.total:.0f} of 100", head, (0, 0, 1), rows)


def _better(found: Debrief) -> Section:
    if found.better:
        yield from _numbered("To do better", found.better)


def _turns(found: Debrief) -> Section:
    rows = [(f"{item.done.clock:.0f}", item.text, item.fault) for item in turns(found.judged)]
    yield from table("Where it turned", ("At min", "Your way", "What was wrong with it"), (0, 1, 1), rows)


def _first_wrong(found: Debrief) -> Section:
    item = found.first_wrong
    if item is None:
        yield Heading("Where it went wrong")
        yield Line("Nowhere. Every step was as good as the best from what was known.")
        return
    yield Heading(f"Where it first went wrong: step {found.judged.index(item) + 1}")
    yield Line(soft(item.text), "strong")
    yield Line(soft(item.fault))
    if item.best and item.loss >= WRONG_FROM:
        yield Line(soft(f"Better from the same knowledge: {item.best} {item.why}"))


def _path(found: Debrief) -> Section:
    head = ("Step", "At min", "Your way", "Min", "What it told", "Best from the same knowledge", "Lost min")
    rows = [_row(*each) for each in enumerate(found.judged, start=1)]
    yield from table("Your way beside the best", head, (0, 0, 2, 0, 2, 2, 0), rows)
    yield Line("Lost: what beginning with that step costs on the average, above the best, in minutes' worth.", "small")


def _row(number: int, item: Judged) -> tuple[str, ...]:
    no_choice = isinstance(item.done.act, (acts.Enter, acts.CallIn, acts.AskFor, acts.TakeBack))
    return (
        f"{number}",
        f"{item.done.clock:.0f}",
        item.text,
        f"{item.done.minutes:.0f}",
        told_in_words(item.gained),
        item.best or ("" if no_choice else "the same, or as good"),
        f"{item.loss:.0f}" if item.loss >= 0.5 else "",
    )


def _own(found: Debrief) -> Section:
    if found.own:
        yours = f"yours took {minutes(found.session.clock)}{', without all of them' if found.missing_proofs else ''}"
        steps = _numbered("The best way through this door", found.own)
        yield from (next(steps), Line(f"Proofs and all: {minutes(found.own_minutes)}; {yours}."), *steps)


def _belief(found: Debrief) -> Section:
    told = []
    for cause in dict.fromkeys(cause for point in found.points for cause in point.belief):
        held = [point.belief[cause] for point in found.points if cause in point.belief]
        named = title(found.session.trees, "causes", cause)
        moved = f"from {percent(held[0])} to {percent(held[-1])}"
        told.append(f"{sparkline(found.points, cause)}  {named}, {moved}")
    yield from _listed("How sure you could be of the true cause, act by act", told)
    yield Picture(svg_plot(found), "", "Belief in the true cause over time")


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
    yield Heading(soft(heading))
    yield Items(tuple(map(soft, texts)) or ("None.",))


def _numbered(heading: str, texts: Iterable[str]) -> Section:
    yield Heading(soft(heading))
    yield from (Line(soft(f"{number}. {text}")) for number, text in enumerate(texts, start=1))
