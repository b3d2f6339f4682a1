"""What a shop's closed calls come to: counted in the database, each rate with the limits of what is only chance.

A rate beyond three-sigma limits about the mean of its table (``estimates.p_chart``, ``c_chart``) is marked as news;
what lies within them is not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sql

from diagnose.calls.words import cause_title, title
from diagnose.knowledge.model import Trees
from diagnose.learning.estimates import c_chart, p_chart
from diagnose.learning.lessons import period_of
from diagnose.learning.records import FINDING, FOUND, NAMED, OUTCOME, PART, TRIAL, Lessons, add
from diagnose.reasoning.scoring import CalibrationBin

# A check that on the average moves what is believed by less than this helps nobody; looked at after so many looks.
_IDLE, _LOOKS = 0.02, 10
_MOST = 12
# Of fewer calls than this, limits that take shares for normal say nothing.
_FEW = 5
_BINS = 10
_SEASONS = ("January to March", "April to June", "July to September", "October to December")

Cell = str | int | float | None


@dataclass(frozen=True)
class Table:
    """Figures of one sort. ``bar`` names the column that a bar shows; ``note`` says how to read or how it was reckoned.

    The last column of a table with limits is ``news``: ``more``, ``less``, or nothing where it is only chance.
    """

    name: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    bar: str = ""
    note: str = ""


@dataclass(frozen=True)
class Shop:
    """All tables of a shop, and how well the program has been calibrated on its calls."""

    calls: int
    tables: tuple[Table, ...]
    calibration: tuple[CalibrationBin, ...]


def shop(trees: Trees, lessons: Lessons, since: date | None = None) -> Shop:
    """The figures of the calls closed since a day, by default of all."""
    figures = _Figures(trees, lessons, since)
    bins = figures.calibration()
    tables = (
        figures.outcomes(),
        figures.causes(),
        *(figures.causes_by(name, column) for name, column in (("kind", OUTCOME.c.kind), ("site", OUTCOME.c.site))),
        figures.seasons(),
        figures.fixed_first(),
        figures.against_promise(),
        figures.second_trips(),
        figures.parts(),
        figures.waiting(),
        figures.coming_back(),
        figures.idle_checks(),
        _as_table(bins),
        figures.saved(),
    )
    return Shop(figures.count, tables, bins)


class _Figures:
    def __init__(self, trees: Trees, lessons: Lessons, since: date | None) -> None:
        self._trees, self._lessons = trees, lessons
        self._recent = OUTCOME.c.day >= (since.toordinal() if since else 0)
        self._since_period = period_of(since) if since else 0
        self._visited = sql.and_(self._recent, OUTCOME.c.visits > 0)
        self._confirmed = sql.and_(self._recent, OUTCOME.c.confirmed == 1)
        self.count = int(self._one(sql.func.count(), self._recent))

    def _rows(self, query: Any) -> list[tuple[Any, ...]]:
        return list(self._lessons.rows(query))

    def _one(self, value: Any, where: Any) -> float:
        return float(self._rows(sql.select(value).where(where))[0][0] or 0)

    def outcomes(self) -> Table:
        counted = sql.func.count()
        rows = self._rows(
            sql.select(OUTCOME.c.result, counted)
            .where(self._recent)
            .group_by(OUTCOME.c.result)
            .order_by(counted.desc())
        )
        return Table("outcomes", "How calls ended", ("outcome", "calls"), tuple(rows), "calls")

    def causes(self) -> Table:
        counted = sql.func.count()
        query = sql.select(OUTCOME.c.cause, counted).where(self._confirmed).group_by(OUTCOME.c.cause)
        rows = self._rows(query.order_by(counted.desc(), OUTCOME.c.cause).limit(_MOST))
        total = self._one(counted, self._confirmed)
        named = tuple((cause_title(self._trees, cause), calls, _share(calls, total)) for cause, calls in rows)
        return Table("causes", "The commonest causes", ("cause", "calls", "share"), named, "share")

    def causes_by(self, name: str, column: Any) -> Table:
        """A cause is news at a kind of door, or at a site, where it is there oftener or seldomer than everywhere."""
        counted = sql.func.count()
        in_all = sql.select(column, counted).where(self._confirmed).group_by(column)
        totals: dict[str, int] = {row[0]: row[1] for row in self._rows(in_all)}
        query = sql.select(OUTCOME.c.cause, column, counted).where(self._confirmed).group_by(OUTCOME.c.cause, column)
        by_cause: dict[str, dict[str, int]] = {}
        for cause, key, calls in self._rows(query):
            by_cause.setdefault(cause, {})[key] = calls
        rows: list[tuple[Cell, ...]] = []
        for cause, seen in by_cause.items():
            keys = [key for key in totals if key]
            _, limits = p_chart([seen.get(key, 0) for key in keys], [totals[key] for key in keys])
            for key, within in zip(keys, limits, strict=True):
                calls = seen.get(key, 0)
                news = _news(calls / totals[key], within) if calls >= _FEW else ""
                if calls:
                    rows.append((key, cause_title(self._trees, cause), calls, _share(calls, totals[key]), news))
        rows.sort(key=lambda row: (not row[4], -int(row[2] or 0), str(row[0]), str(row[1])))
        where = {"kind": "kind of door", "site": "site"}[name]
        return Table(
            f"causes-by-{name}",
            f"Causes by {where}",
            (where, "cause", "calls", "share", "news"),
            tuple(rows[:_MOST]),
            "share",
            _CHANCE,
        )

    def seasons(self) -> Table:
        counted, season = sql.func.count(), OUTCOME.c.period % 4
        totals = {int(s): n for s, n in self._rows(sql.select(season, counted).where(self._confirmed).group_by(season))}
        query = sql.select(OUTCOME.c.cause, season, counted).where(self._confirmed).group_by(OUTCOME.c.cause, season)
        by_cause: dict[str, dict[int, int]] = {}
        for cause, number, calls in self._rows(query):
            by_cause.setdefault(cause, {})[int(number)] = calls
        rows: list[tuple[Cell, ...]] = []
        for cause, seen in by_cause.items():
            keys = sorted(totals)
            _, limits = p_chart([seen.get(key, 0) for key in keys], [totals[key] for key in keys])
            rows += [
                (_SEASONS[key], cause_title(self._trees, cause), seen[key], _share(seen[key], totals[key]), news)
                for key, within in zip(keys, limits, strict=True)
                if seen.get(key, 0) >= _FEW and (news := _news(seen[key] / totals[key], within))
            ]
        rows.sort(key=lambda row: (-int(row[2] or 0), str(row[0])))
        note = "Only what is more or less than chance allows is shown."
        columns = ("season", "cause", "calls", "share", "news")
        return Table("causes-by-season", "Causes by season", columns, tuple(rows[:_MOST]), "share", note)

    def _by_quarter(self, name: str, heading: str, column: str, hit: Any, where: Any, note: str) -> Table:
        hits = add(sql.case((hit, 1), else_=0))
        query = sql.select(OUTCOME.c.period, hits, sql.func.count()).where(where).group_by(OUTCOME.c.period)
        rows = self._rows(query.order_by(OUTCOME.c.period))
        _, limits = p_chart([row[1] for row in rows], [row[2] for row in rows])
        named = tuple(
            (
                _quarter(period),
                calls,
                _share(hit_, calls),
                round(low, 3),
                round(high, 3),
                _news(hit_ / calls, (low, high)),
            )
            for (period, hit_, calls), (low, high) in zip(rows, limits, strict=True)
        )
        return Table(
            name, heading, ("quarter", "calls", column, "low", "high", "news"), named, column, f"{note} {_CHANCE}"
        )

    def fixed_first(self) -> Table:
        first = sql.and_(OUTCOME.c.confirmed == 1, OUTCOME.c.visits == 1, OUTCOME.c.remedies == 1)
        note = "Of the calls on which somebody went: repaired and proved on the first visit, by the first repair."
        return self._by_quarter("fixed-first", "Fixed at the first visit", "fixed", first, self._visited, note)

    def second_trips(self) -> Table:
        note = (
            "Of the calls on which somebody went: those with a pause of two hours or more between entries at the door."
        )
        return self._by_quarter("second-trips", "Second trips", "again", OUTCOME.c.visits > 1, self._visited, note)

    def against_promise(self) -> Table:
        timed = sql.and_(self._confirmed, OUTCOME.c.took.is_not(None), OUTCOME.c.promised.is_not(None))
        inside = sql.and_(OUTCOME.c.took >= OUTCOME.c.low, OUTCOME.c.took <= OUTCOME.c.high)
        query = sql.select(
            OUTCOME.c.period,
            sql.func.count(),
            sql.func.avg(OUTCOME.c.promised),
            sql.func.avg(OUTCOME.c.took),
            add(sql.case((inside, 1), else_=0)),
        )
        rows = self._rows(query.where(timed).group_by(OUTCOME.c.period).order_by(OUTCOME.c.period))
        named = tuple(
            (_quarter(period), calls, round(float(promised), 1), round(float(took), 1), _share(held, calls))
            for period, calls, promised, took, held in rows
        )
        note = "Means, in minutes; 'held' is the share within the middle 80 % that was promised."
        columns = ("quarter", "calls", "promised", "took", "held")
        return Table("promise", "Minutes against the promise", columns, named, "took", note)

    def parts(self) -> Table:
        """What vans carried, what repairs took, what was not there for them, and the second trips on which it went in.

        Parts that were wanted most, used or missing, come first.
        """
        again = add(sql.case((OUTCOME.c.visits > 1, 1), else_=0))
        once = sql.select(TRIAL.c.call_id, TRIAL.c.number, TRIAL.c.remedy).distinct().subquery()
        query = (
            sql.select(once.c.remedy, sql.func.count(), again)
            .join_from(once, OUTCOME, OUTCOME.c.call_id == once.c.call_id)
            .where(self._recent)
            .group_by(once.c.remedy)
        )
        tallies: dict[str, list[int]] = {}
        for remedy, times, later in self._rows(query):
            for part, count in self._parts_of(remedy).items():
                tally = tallies.setdefault(part, [0, 0, 0, 0])
                tally[1] += count * times
                tally[3] += int(later)
        vans = sql.select(PART.c.part, add(PART.c.carried), add(PART.c.missing)).group_by(PART.c.part)
        of_calls = vans.join_from(PART, OUTCOME, OUTCOME.c.call_id == PART.c.call_id).where(self._recent)
        for part, carried, missing in self._rows(of_calls):
            tally = tallies.setdefault(part, [0, 0, 0, 0])
            tally[0] += int(carried)
            tally[2] += int(missing)
        first = sorted(tallies.items(), key=lambda each: (-each[1][1] - each[1][2], -each[1][0], each[0]))[:_MOST]
        named: tuple[tuple[Cell, ...], ...] = tuple(
            (title(self._trees, "parts", part), *tally) for part, tally in first
        )
        note = (
            "'carried' is what the dispatch sheets put on the van, 'missing' what was not there when a repair was to "
            "be done; 'second trips' are the calls on which the part went in and somebody had to come again."
        )
        columns = ("part", "carried", "used", "missing", "second trips")
        return Table("parts", "Parts carried, used and missing", columns, named, "used", note)

    def _parts_of(self, remedy: str) -> Mapping[str, int]:
        known = self._trees.remedies.get(remedy)
        return known.parts if known is not None else {}

    def waiting(self) -> Table:
        calls = [call for call in self._lessons.calls(open_only=True) if call.state == "waiting"]
        rows = tuple((call.id, call.opened_at[:10], call.site, call.door, call.waiting) for call in calls)
        return Table("waiting", "Calls that wait", ("call", "opened", "site", "door", "for"), rows)

    def coming_back(self) -> Table:
        counted = sql.func.count()
        named = sql.and_(self._visited, OUTCOME.c.door != "")
        query = (
            sql.select(OUTCOME.c.site, OUTCOME.c.door, counted).where(named).group_by(OUTCOME.c.site, OUTCOME.c.door)
        )
        doors = query.subquery()
        of_all = self._rows(sql.select(sql.func.count(), add(doors.c[2])).select_from(doors))[0]
        mean = float(of_all[1] or 0) / max(int(of_all[0]), 1)
        _, _, high = c_chart([mean])
        rows = self._rows(query.having(counted > max(high, 2)).order_by(counted.desc()).limit(_MOST))
        note = f"Doors with more calls than chance allows, where a door has {mean:.1f} on the average."
        return Table(
            "coming-back", "Doors that keep coming back", ("site", "door", "calls"), tuple(rows), "calls", note
        )

    def idle_checks(self) -> Table:
        of_name = sql.select(FINDING.c.named, sql.func.count().label("looks"), add(FINDING.c.moved).label("moved"))
        each = of_name.where(FINDING.c.period >= self._since_period).group_by(FINDING.c.named).subquery()
        counted, moved = add(each.c.looks), add(each.c.moved) / add(each.c.looks)
        query = sql.select(NAMED.c.check_id, counted, moved).join_from(each, NAMED, each.c.named == NAMED.c.id)
        query = query.group_by(NAMED.c.check_id).having(sql.and_(counted >= _LOOKS, moved < _IDLE))
        checks = self._trees.checks
        rows = tuple(
            (checks[check].text if check in checks else check, int(looks), round(float(mean), 4))
            for check, looks, mean in self._rows(query.order_by(counted.desc()).limit(_MOST))
        )
        note = "They change what is believed by less than 2 % of it, on the average."
        return Table("idle-checks", "Checks that never help", ("check", "looks", "moved"), rows, "looks", note)

    def calibration(self) -> tuple[CalibrationBin, ...]:
        """Of the leading cause when the first remedy was put, on confirmed calls; as ``scoring.calibration`` has it."""
        chance = OUTCOME.c.chance
        width = 1 / _BINS
        which = sql.case(*((chance < (number + 1) * width, number) for number in range(_BINS - 1)), else_=_BINS - 1)
        # A shared call counts by the share of the cause that led.
        of_lead = sql.func.coalesce(add(FOUND.c.share), 0.0)
        right = (
            sql.select(of_lead)
            .where(FOUND.c.call_id == OUTCOME.c.call_id, FOUND.c.cause == OUTCOME.c.led)
            .scalar_subquery()
        )
        each = sql.select(which.label("bin"), chance.label("chance"), right.label("right")).where(self._confirmed)
        calls = each.subquery()
        query = sql.select(calls.c.bin, sql.func.count(), sql.func.avg(calls.c.chance), sql.func.avg(calls.c.right))
        return tuple(
            CalibrationBin(number * width, (number + 1) * width, int(count), float(said), float(came))
            for number, count, said, came in self._rows(query.group_by(calls.c.bin).order_by(calls.c.bin))
        )

    def saved(self) -> Table:
        """An upper bound on what better numbers can save: minutes not needed, had the cause been known."""
        joined = sql.and_(TRIAL.c.worked == 0, self._confirmed)
        in_vain = sql.select(add(TRIAL.c.minutes)).join_from(TRIAL, OUTCOME, OUTCOME.c.call_id == TRIAL.c.call_id)
        of_looks = sql.and_(FINDING.c.moved < _IDLE, self._confirmed)
        idle = sql.select(add(FINDING.c.minutes)).join_from(FINDING, OUTCOME, OUTCOME.c.call_id == FINDING.c.call_id)
        took = self._one(add(OUTCOME.c.took), self._confirmed)
        spent = float(self._rows(in_vain.where(joined))[0][0] or 0), float(self._rows(idle.where(of_looks))[0][0] or 0)
        rows: tuple[tuple[Cell, ...], ...] = (
            ("on repairs that did not help", round(spent[0], 1), _share(spent[0], took)),
            ("on checks that changed nothing", round(spent[1], 1), _share(spent[1], took)),
        )
        note = (
            "Of the minutes that confirmed calls took: spent on what turned out to be no use. Better numbers can save "
            "this at most; nobody knows beforehand what will be of no use."
        )
        return Table("saved", "What could have been saved", ("minutes", "spent", "share"), rows, "share", note)


_CHANCE = "'more' and 'less' lie beyond three-sigma limits; all else is chance."


def _as_table(bins: Iterable[CalibrationBin]) -> Table:
    rows = tuple((f"{b.low:.1f} to {b.high:.1f}", b.count, round(b.predicted, 3), round(b.came_true, 3)) for b in bins)
    note = (
        "The leading cause when the first repair was put: how likely it was said to be, and how often it was the cause."
    )
    columns = ("said", "calls", "on average", "came true")
    return Table("calibration", "How sure the program was, and how right", columns, rows, "came true", note)


def _share(part: float, whole: float) -> float:
    return round(float(part) / float(whole), 4) if whole else 0.0


def _news(share: float, within: tuple[float, float]) -> str:
    return "less" if share < within[0] else "more" if share > within[1] else ""


def _quarter(period: int) -> str:
    return f"{period // 4}, {_SEASONS[period % 4]}"
