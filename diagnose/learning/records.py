"""The rows that closed calls tell, kept in the store beside their events, and counted inside the database.

The events are the truth: the rows are made from them, are behind them until ``catch_up``, and can be forgotten and
made again (``rebuild``). Every count is one statement that SQLite and PostgreSQL both take; what comes back is a row
for each number of the trees that was met, however many calls there are. Findings, by far the most rows, are added to
a tally of their quarter of a year in the moment they are kept; only a quarter whose calls were changed or forgotten is
counted anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, fields
from typing import Any

import msgspec
import sqlalchemy as sql

from diagnose.calls.database import Connection, Database
from diagnose.calls.events import AnyEvent
from diagnose.calls.known import BACK
from diagnose.calls.migrations import Migration
from diagnose.calls.store import Store, StoreError, Taken
from diagnose.knowledge.model import Trees
from diagnose.learning.lessons import CauseRow, FindingRow, Lesson, OutcomeRow, PartRow, Replay, TrialRow, lesson

# A call that is forgotten takes its rows along.
_OF_CALL = "call_id VARCHAR(40) NOT NULL REFERENCES call (id) ON DELETE CASCADE"
SHAPES = (
    Migration(
        "what closed calls tell",
        (
            f"CREATE TABLE outcome ({_OF_CALL}, "
            "sequence INTEGER NOT NULL, day INTEGER NOT NULL, period INTEGER NOT NULL, site TEXT NOT NULL, "
            "door TEXT NOT NULL, kind TEXT NOT NULL, complaint VARCHAR(200) NOT NULL, raised VARCHAR(40) NOT NULL, "
            "result VARCHAR(40) NOT NULL, confirmed INTEGER NOT NULL, cause VARCHAR(200) NOT NULL, "
            "share DOUBLE PRECISION NOT NULL, remedy VARCHAR(200) NOT NULL, led VARCHAR(200) NOT NULL, "
            "chance DOUBLE PRECISION NOT NULL, promised DOUBLE PRECISION, low DOUBLE PRECISION, "
            "high DOUBLE PRECISION, took DOUBLE PRECISION, checks INTEGER NOT NULL, remedies INTEGER NOT NULL, "
            "visits INTEGER NOT NULL, digest VARCHAR(200) NOT NULL, PRIMARY KEY (call_id))",
            "CREATE TABLE suspicion (raised VARCHAR(40) NOT NULL PRIMARY KEY, complaint VARCHAR(200) NOT NULL, "
            "suspects TEXT NOT NULL)",
            f"CREATE TABLE found ({_OF_CALL}, cause VARCHAR(200) NOT NULL, "
            "share DOUBLE PRECISION NOT NULL, period INTEGER NOT NULL, kind TEXT NOT NULL, "
            "complaint VARCHAR(200) NOT NULL, PRIMARY KEY (call_id, cause))",
            f"CREATE TABLE finding ({_OF_CALL}, number INTEGER NOT NULL, "
            "check_id VARCHAR(200) NOT NULL, cause VARCHAR(200) NOT NULL, answer VARCHAR(200) NOT NULL, "
            "share DOUBLE PRECISION NOT NULL, sure INTEGER NOT NULL, period INTEGER NOT NULL, "
            "value DOUBLE PRECISION, log_value DOUBLE PRECISION, chosen INTEGER NOT NULL, "
            "moved DOUBLE PRECISION NOT NULL, minutes DOUBLE PRECISION)",
            "CREATE INDEX finding_of_call ON finding (call_id)",
            # In the order it is counted in, with all that is counted: a count reads this and nothing else.
            "CREATE INDEX finding_counted ON finding "
            "(cause, check_id, answer, period, share, sure, value, log_value, minutes)",
            f"CREATE TABLE trial ({_OF_CALL}, number INTEGER NOT NULL, "
            "remedy VARCHAR(200) NOT NULL, cause VARCHAR(200) NOT NULL, share DOUBLE PRECISION NOT NULL, "
            "period INTEGER NOT NULL, worked INTEGER NOT NULL, minutes DOUBLE PRECISION)",
            "CREATE INDEX trial_of_call ON trial (call_id)",
            "CREATE INDEX trial_counted ON trial (remedy, cause, period, share, worked, minutes)",
            "CREATE INDEX found_counted ON found (cause, kind, complaint, period, share)",
            "CREATE INDEX outcome_counted ON outcome (confirmed, raised, kind, period)",
            "CREATE INDEX outcome_cause ON outcome (cause, day)",
            "CREATE INDEX outcome_period ON outcome (period)",
        ),
    ),
    Migration(
        "what findings come to, by quarters of a year",
        (
            "CREATE TABLE tally (period INTEGER NOT NULL, cause VARCHAR(200) NOT NULL, check_id VARCHAR(200) NOT NULL, "
            "answer VARCHAR(200) NOT NULL, share DOUBLE PRECISION NOT NULL, sure INTEGER NOT NULL, "
            "readings DOUBLE PRECISION NOT NULL, logs DOUBLE PRECISION NOT NULL, looks INTEGER NOT NULL, "
            "minutes DOUBLE PRECISION NOT NULL, PRIMARY KEY (period, cause, check_id, answer))",
            # Which calls they were counted of: how many, and the sum of their last events' numbers.
            "CREATE TABLE tallied (period INTEGER NOT NULL PRIMARY KEY, calls INTEGER NOT NULL, last BIGINT NOT NULL)",
            "DROP INDEX outcome_period",
            "CREATE INDEX outcome_period ON outcome (period, sequence)",
            "DROP INDEX finding_counted",
            "CREATE INDEX finding_counted ON finding "
            "(period, cause, check_id, answer, share, sure, value, log_value, minutes)",
        ),
    ),
    # No call of before says anything of it, so none is read again.
    Migration(
        "parts on the van, and parts that were not there",
        (
            f"CREATE TABLE part ({_OF_CALL}, part VARCHAR(200) NOT NULL, carried INTEGER NOT NULL, "
            "missing INTEGER NOT NULL, PRIMARY KEY (call_id, part))",
        ),
    ),
    Migration(
        "what was found under a number in place of three names",
        (
            "CREATE TABLE named (id INTEGER NOT NULL PRIMARY KEY, cause VARCHAR(200) NOT NULL, "
            "check_id VARCHAR(200) NOT NULL, answer VARCHAR(200) NOT NULL, UNIQUE (cause, check_id, answer))",
            "INSERT INTO named SELECT ROW_NUMBER() OVER (ORDER BY cause, check_id, answer), cause, check_id, answer "
            "FROM (SELECT DISTINCT cause, check_id, answer FROM finding) AS met",
            "DROP INDEX finding_of_call",
            "DROP INDEX finding_counted",
            "ALTER TABLE finding RENAME TO finding_by_name",
            f"CREATE TABLE finding ({_OF_CALL}, number INTEGER NOT NULL, named INTEGER NOT NULL, "
            "share DOUBLE PRECISION NOT NULL, sure INTEGER NOT NULL, period INTEGER NOT NULL, "
            "value DOUBLE PRECISION, log_value DOUBLE PRECISION, chosen INTEGER NOT NULL, "
            "moved DOUBLE PRECISION NOT NULL, minutes DOUBLE PRECISION)",
            "INSERT INTO finding SELECT call_id, number, id, share, sure, period, value, log_value, chosen, moved, "
            "minutes FROM finding_by_name AS old JOIN named ON named.cause = old.cause "
            "AND named.check_id = old.check_id AND named.answer = old.answer",
            "DROP TABLE finding_by_name",
            "CREATE INDEX finding_of_call ON finding (call_id)",
            "CREATE INDEX finding_counted ON finding (period, named, share, sure, value, log_value, minutes)",
            "DROP TABLE tally",
            "CREATE TABLE tally (period INTEGER NOT NULL, named INTEGER NOT NULL, share DOUBLE PRECISION NOT NULL, "
            "sure INTEGER NOT NULL, readings DOUBLE PRECISION NOT NULL, logs DOUBLE PRECISION NOT NULL, "
            "looks INTEGER NOT NULL, minutes DOUBLE PRECISION NOT NULL, PRIMARY KEY (period, named))",
            "DELETE FROM tallied",
        ),
    ),
    Migration(
        "what a later call told of one that was left out of service",
        (
            "ALTER TABLE outcome ADD COLUMN told_by VARCHAR(40) NOT NULL DEFAULT ''",
            "CREATE INDEX outcome_door ON outcome (site, door, day)",
            "CREATE INDEX outcome_told_by ON outcome (told_by) WHERE told_by <> ''",
            # Only those are read again that may gain by it, or have gone on.
            "UPDATE call SET untold = 0 WHERE id IN (SELECT call_id FROM outcome WHERE result <> 'left out of service' "
            "AND sequence >= (SELECT MAX(event.sequence) FROM event WHERE event.call_id = outcome.call_id))",
        ),
    ),
)

# A door that was left out of service and is put right within so many days had the same fault all the time: an estimate.
SAME_FAULT_DAYS = 30
_LEFT = "left out of service"
# What a finding is tallied under, beside its quarter of a year, and what of.
_NAMES = ("cause", "check_id", "answer")
_TALLIED = ("share", "sure", "readings", "logs", "looks", "minutes")
_shape = sql.MetaData()
_WIDTHS: dict[str, type[Any]] = {"str": sql.Text, "int": sql.Integer, "float": sql.Float, "float | None": sql.Float}


def _table(name: str, row: type[Any], but: Sequence[str] = (), *more: sql.Column[Any]) -> sql.Table:
    """A table with a column for each field of a row, ``but`` some, and ``more``."""
    held = (each for each in fields(row) if each.name not in but)
    return sql.Table(name, _shape, *(sql.Column(each.name, _WIDTHS[str(each.type)]) for each in held), *more)


OUTCOME, FOUND = _table("outcome", OutcomeRow), _table("found", CauseRow)
FINDING = _table("finding", FindingRow, _NAMES, sql.Column("named", sql.Integer))
TRIAL, PART = _table("trial", TrialRow), _table("part", PartRow)
NAMED = sql.Table("named", _shape, sql.Column("id", sql.Integer), *(sql.Column(name, sql.Text) for name in _NAMES))
SUSPICION = sql.Table(
    "suspicion",
    _shape,
    sql.Column("raised", sql.Text),
    sql.Column("complaint", sql.Text),
    sql.Column("suspects", sql.Text),
)
TALLY = sql.Table(
    "tally",
    _shape,
    *(sql.Column(name, sql.Integer) for name in ("period", "named")),
    *(sql.Column(name, sql.Float) for name in _TALLIED),
)
TALLIED = sql.Table("tallied", _shape, *(sql.Column(name, sql.Integer) for name in ("period", "calls", "last")))


def _added(table: sql.Table, keys: Sequence[str]) -> sql.TextClause:
    """The statement that adds a row's figures to those of the row with the same keys, made where it is not there."""
    names = [column.name for column in table.c]
    sums = ", ".join(f"{name} = {table.name}.{name} + excluded.{name}" for name in names if name not in keys)
    return sql.text(
        f"INSERT INTO {table.name} ({', '.join(names)}) VALUES ({', '.join(f':{name}' for name in names)}) "
        f"ON CONFLICT ({', '.join(keys)}) DO UPDATE SET {sums}"
    )


# What is in the store besides.
CALL = sql.table("call", sql.column("id"), sql.column("untold"))
EVENT = sql.table("event", sql.column("call_id"))
_ADD_TALLY, _ADD_TALLIED = _added(TALLY, ("period", "named")), _added(TALLIED, ("period",))
Progress = Callable[[int, int], None]
Weights = Mapping[int, float]


@dataclass(frozen=True)
class Counts:
    """What is counted for learning; every count of calls is weighted by age where it says ``weighted``.

    ``causes`` and ``complaints`` are weighted shares of confirmed calls, by (cause, kind) and (cause, complaint);
    ``raised`` weighted confirmed calls by (complaint, kind, suspects).
    """

    causes: dict[tuple[str, str], float]
    complaints: dict[tuple[str, str], float]
    raised: list[tuple[str, str, tuple[str, ...], float]]
    answers: list[AnswerCount]
    trials: list[TrialCount]
    check_minutes: dict[str, tuple[float, float]]
    remedy_minutes: dict[str, tuple[float, float]]
    calls: int


@dataclass(frozen=True)
class AnswerCount:
    """One answer, or quarter, of one check under one cause, of the looks that were chosen.

    ``sure`` counts looks in calls that are that cause's alone, each as one; ``weighted`` all, by share and age. Sums of
    readings, and of their logarithms, are weighted likewise.
    """

    cause: str
    check: str
    answer: str
    weighted: float
    sure: int
    values: float
    logs: float


@dataclass(frozen=True)
class TrialCount:
    """How often a remedy was done where a cause was there, and how often it removed it; weighted by share and age."""

    remedy: str
    cause: str
    done: float
    worked: float


class Lessons(Store):
    """A store's lessons. Made of an open store with ``Lessons.of``; closing it is the store's business."""

    def __init__(self, database: Database) -> None:
        super().__init__(database)
        self._named: dict[tuple[str, ...], int] = {}

    @classmethod
    def of(cls, store: Store) -> Lessons:
        """The lessons of a store, its tables brought to the present shape. Raises ``StoreError``."""
        written = f"What calls tell in {store.where} was"
        return cls(store._database)._bring(SHAPES, "lesson_shape", written)

    # --- keeping up with the events --------------------------------------------------------------------------

    def behind(self) -> list[str]:
        """The calls that have gone on since they were last read, or never could be."""
        untold = sql.select(CALL.c.id).where(CALL.c.untold == 1)
        known = sql.select(OUTCOME.c.call_id)
        forgotten = sql.select(OUTCOME.c.call_id).where(OUTCOME.c.told_by != "", OUTCOME.c.told_by.not_in(known))
        return sorted({row[0] for query in (untold, forgotten) for row in self.rows(query)})

    def catch_up(self, trees: Trees, progress: Progress = lambda done, of: None) -> int:
        """Make the rows of every call closed, or changed, since the last time. Gives back how many calls were read.

        A call whose events cannot be read tells nothing, and hides no other.
        """
        replay, unread, read = Replay(trees), set[str](), set[str]()
        # The second time for those of which a later call told the cause.
        for _ in range(2):
            calls = [each for each in self.behind() if each not in unread]
            for number, call_id in enumerate(calls, start=1):
                try:
                    events = self.events(call_id)
                except StoreError:
                    events, unread = [], {*unread, call_id}
                with suppress(Taken):  # another program made the same rows in this moment
                    self.keep(call_id, self._told(replay, call_id, events) if events else None, len(events))
                progress(number, len(calls))
            read.update(calls)
        return len(read)

    def _told(self, replay: Replay, call_id: str, events: Sequence[AnyEvent]) -> Lesson | None:
        """What a call tells; of one that was left out of service by what was found when the door was next put right."""
        told = lesson(replay.trees, call_id, events, replay)
        if told is None or told.outcome.result != _LEFT or not (told.outcome.door and told.outcome.complaint):
            return told
        row = told.outcome
        there = sql.select(OUTCOME).where(OUTCOME.c.site == row.site, OUTCOME.c.door == row.door)
        later = there.where(OUTCOME.c.result.in_(BACK), OUTCOME.c.day.between(row.day, row.day + SAME_FAULT_DAYS))
        with self._reading() as connection:
            found = _outcome(connection, later.order_by(OUTCOME.c.day, OUTCOME.c.call_id).limit(1))
        # Of two calls of one day nobody knows here which came first.
        if found is None or found.day == row.day or found.complaint != row.complaint or found.share < 1:
            return told
        return lesson(replay.trees, call_id, events, replay, (found.call_id, found.cause)) if found.confirmed else told

    def rebuild(self) -> None:
        """Forget every row: they are made again from the events at the next ``catch_up``."""
        with self._writing() as connection:
            for table in (TALLIED, TALLY, PART, TRIAL, FINDING, FOUND, OUTCOME, SUSPICION):
                connection.execute(table.delete())
            connection.execute(CALL.update().values(untold=1))

    def keep(self, call_id: str, told: Lesson | None, read: int = 0) -> None:
        """Put a call's rows, made of the ``read`` events it has, in the place of those that were there, all or none.

        Those of a call that had none are added to the tally of their quarter; another's quarter is counted anew when
        it is next asked for.
        """
        named = self._numbers({_names(row) for row in told.findings}) if told is not None else {}
        mine, of_outcome = CALL.update().where(CALL.c.id == call_id), OUTCOME.c.call_id == call_id
        with self._writing() as connection:
            if read:
                connection.execute(mine.values(untold=0))
                number = sql.select(sql.func.count()).where(EVENT.c.call_id == call_id)
                if connection.execute(number).scalar() != read:
                    connection.execute(mine.values(untold=1))
            before = _outcome(connection, sql.select(OUTCOME).where(of_outcome))
            after = told.outcome if told is not None else None
            for each in (before, after) if _found_there(before) != _found_there(after) else ():
                if each is not None and each.result in BACK and each.door:
                    connection.execute(CALL.update().where(_left_before(each)).values(untold=1))
            for table in (PART, TRIAL, FINDING, FOUND, OUTCOME):
                connection.execute(table.delete().where(table.c.call_id == call_id))
            # In one order, so that nobody waits in a ring.
            for period in sorted({before.period, after.period if after else before.period}) if before else ():
                connection.execute(TALLIED.delete().where(TALLIED.c.period == period))
            if told is None:
                return
            connection.execute(OUTCOME.insert(), asdict(told.outcome))
            findings = [_numbered(row, named[_names(row)]) for row in told.findings]
            others = ((FOUND, told.causes), (TRIAL, told.trials), (PART, told.parts))
            for table, rows in ((FINDING, findings), *((each, list(map(asdict, some))) for each, some in others)):
                if rows:
                    connection.execute(table.insert(), rows)
            if before is None:
                one = {"period": told.outcome.period, "calls": 1, "last": told.outcome.sequence}
                connection.execute(_ADD_TALLIED, one)
                if findings:
                    connection.execute(_ADD_TALLY, _tally_rows(findings))
        if told.outcome.raised:
            self._name_suspects(told)

    def _numbers(self, names: set[tuple[str, ...]]) -> Mapping[tuple[str, ...], int]:
        """The number of each cause, check and answer; one that has none gets the next."""
        free = sql.func.coalesce(sql.func.max(NAMED.c.id), 0) + 1
        while new := names - self._named.keys():
            self._named = {tuple(row[1:]): int(row[0]) for row in self.rows(sql.select(NAMED))}
            for each in sorted(new - self._named.keys()):
                row = sql.select(free, *(sql.literal(name) for name in each))
                with suppress(Taken), self._writing() as connection:
                    connection.execute(NAMED.insert().from_select(["id", *_NAMES], row))
        return self._named

    def _name_suspects(self, told: Lesson) -> None:
        known = sql.select(SUSPICION.c.raised).where(SUSPICION.c.raised == told.outcome.raised)
        suspects = msgspec.json.encode(told.suspects).decode()
        row = {"raised": told.outcome.raised, "complaint": told.outcome.complaint, "suspects": suspects}
        try:
            with self._writing() as connection:
                if connection.execute(known).first() is None:
                    connection.execute(SUSPICION.insert(), row)
        except Taken:  # another program named them in this moment
            return

    def kept_rows(self) -> dict[str, list[tuple[Any, ...]]]:
        """Everything kept, table by table, in an order that does not hang on when it was written."""
        names = [NAMED.c[name] for name in _NAMES]
        figures = [column for column in FINDING.c if column.name != "named"]
        found = sql.select(*figures, *names).join_from(FINDING, NAMED, FINDING.c.named == NAMED.c.id)
        tables = (OUTCOME, FOUND, TRIAL, PART, SUSPICION)
        queries = {"finding": found, **{table.name: sql.select(table) for table in tables}}
        return {name: sorted(self.rows(query), key=repr) for name, query in queries.items()}

    # --- counting --------------------------------------------------------------------------------------------

    def periods(self) -> list[int]:
        """The quarters of a year in which calls were closed."""
        return [int(row[0]) for row in self.rows(sql.select(OUTCOME.c.period).distinct().order_by(OUTCOME.c.period))]

    def counts(self, weights: Weights) -> Counts:
        """Everything that is learnt from, each call weighted by its quarter of a year."""
        confirmed = OUTCOME.c.confirmed == 1
        suspects = {
            row[0]: (str(row[1]), msgspec.json.decode(row[2], type=tuple[str, ...]))
            for row in self.rows(sql.select(SUSPICION))
        }
        found = self.grouped(FOUND, [FOUND.c.cause, FOUND.c.kind, FOUND.c.complaint], [add(FOUND.c.share)], weights)
        causes: dict[tuple[str, str], float] = {}
        complaints: dict[tuple[str, str], float] = {}
        for cause, kind, complaint, share in found:
            causes[cause, kind] = causes.get((cause, kind), 0.0) + share
            complaints[cause, complaint] = complaints.get((cause, complaint), 0.0) + share
        raised = self.grouped(OUTCOME, [OUTCOME.c.raised, OUTCOME.c.kind], [sql.func.count()], weights, confirmed)
        ((closed,),) = self.rows(sql.select(sql.func.count()).where(OUTCOME.c.cause != ""))
        answers, timed = self._answers(weights)
        trials, remedies_timed = self._trials(weights)
        return Counts(
            causes,
            complaints,
            [(suspects[name][0], kind, suspects[name][1], count) for name, kind, count in raised if name in suspects],
            answers,
            trials,
            timed,
            remedies_timed,
            int(closed),
        )

    def unlisted(self, most: int = 500) -> list[str]:
        """The latest calls that were closed with a cause that is in no tree."""
        query = sql.select(OUTCOME.c.call_id).where(OUTCOME.c.cause == "unlisted")
        return [row[0] for row in self.rows(query.order_by(OUTCOME.c.day.desc(), OUTCOME.c.call_id).limit(most))]

    def tally(self) -> int:
        """Count anew the findings of each quarter whose calls are not those of its tally. Gives back how many were."""
        last_events = sql.cast(add(OUTCOME.c.sequence), sql.BigInteger)
        calls = sql.select(OUTCOME.c.period, sql.func.count(), last_events).group_by(OUTCOME.c.period)
        there = {(int(p), int(n), int(last)) for p, n, last in self.rows(calls)}
        counted = {(int(p), int(n), int(last)) for p, n, last in self.rows(sql.select(TALLIED))}
        share, is_number = FINDING.c.share, FINDING.c.value.is_not(None)
        sums = (
            add(share),
            add(FINDING.c.sure),
            *(
                sql.func.coalesce(add(share * column).filter(is_number), 0.0)
                for column in (FINDING.c.value, FINDING.c.log_value)
            ),
            sql.func.count(FINDING.c.minutes),
            sql.func.coalesce(add(FINDING.c.minutes), 0.0),
        )
        changed = sorted({each[0] for each in there ^ counted})
        for period in changed:
            columns = sql.literal(period), FINDING.c.named, *sums
            found = sql.select(*columns).where(FINDING.c.period == period).group_by(FINDING.c.named)
            with self._writing() as connection:
                # Who holds the quarter's row may count it; who keeps a call of it meanwhile adds to it afterwards.
                connection.execute(_ADD_TALLIED, {"period": period, "calls": 0, "last": 0})
                for table in (TALLIED, TALLY):
                    connection.execute(table.delete().where(table.c.period == period))
                here = calls.where(OUTCOME.c.period == period)
                connection.execute(TALLIED.insert().from_select(["period", "calls", "last"], here))
                connection.execute(TALLY.insert().from_select(["period", "named", *_TALLIED], found))
        return len(changed)

    def _answers(self, weights: Weights) -> tuple[list[AnswerCount], dict[str, tuple[float, float]]]:
        """What was found, and how many looks at each check were timed and their minutes."""
        self.tally()
        names = {int(row[0]): row[1:] for row in self.rows(sql.select(NAMED))}
        weight = _weight(TALLY, weights)
        weighted = [add(TALLY.c[name] * weight) for name in ("share", "readings", "logs", "looks", "minutes")]
        query = sql.select(TALLY.c.named, add(TALLY.c.sure), *weighted).group_by(TALLY.c.named)
        answers: list[AnswerCount] = []
        timed: dict[str, tuple[float, float]] = {}
        for named, sums in sorted((names[row[0]], row[1:]) for row in self.rows(query)):
            (cause, check, answer), (sure, share, readings, logs, looks, minutes) = named, sums
            if cause and answer:
                answers.append(AnswerCount(cause, check, answer, share, int(sure), readings, logs))
            if looks:
                before = timed.get(check, (0.0, 0.0))
                timed[check] = (before[0] + looks, before[1] + minutes)
        return answers, timed

    def _trials(self, weights: Weights) -> tuple[list[TrialCount], dict[str, tuple[float, float]]]:
        """How often remedies were done and worked, and how many were timed and their minutes."""
        share, minutes = TRIAL.c.share, TRIAL.c.minutes
        sums = [add(share), add(share * TRIAL.c.worked), sql.func.count(minutes), add(minutes)]
        trials: list[TrialCount] = []
        timed: dict[str, tuple[float, float]] = {}
        rows = self.grouped(TRIAL, [TRIAL.c.remedy, TRIAL.c.cause], sums, weights)
        for remedy, cause, done, worked, times, taken in rows:
            if cause:
                trials.append(TrialCount(remedy, cause, done, worked))
            if times:
                before = timed.get(remedy, (0.0, 0.0))
                timed[remedy] = (before[0] + times, before[1] + taken)
        return trials, timed

    def grouped(
        self,
        table: sql.Table,
        keys: Sequence[sql.ColumnElement[Any]],
        sums: Sequence[sql.ColumnElement[Any]],
        weights: Weights,
        where: sql.ColumnElement[bool] | None = None,
    ) -> Iterator[tuple[Any, ...]]:
        """Sums over the rows alike in ``keys``, weighted by the rows' quarter of a year.

        Rows are first added up by quarter, in the order of an index where there is one, so that a weight is looked up
        once for each sum and not for each row.
        """
        named = [each.label(f"k{number}") for number, each in enumerate(keys)]
        inner = sql.select(
            *named,
            _weight(table, weights).label("weight"),
            *(each.label(f"s{number}") for number, each in enumerate(sums)),
        ).group_by(*keys, table.c.period)
        by_period = (inner if where is None else inner.where(where)).subquery()
        outer = [by_period.c[f"k{number}"] for number in range(len(keys))]
        query = sql.select(
            *outer,
            *(sql.func.sum(by_period.c[f"s{number}"] * by_period.c.weight) for number in range(len(sums))),
        ).group_by(*outer)
        return self.rows(query.order_by(*outer))

    def rows(self, query: sql.Select[*tuple[Any, ...]]) -> Iterator[tuple[Any, ...]]:
        """What a statement gives, a few thousand rows held at a time."""
        with self._reading() as connection:
            yield from connection.execute(query, streams=True)


def add(column: sql.ColumnElement[Any]) -> sql.Function[Any]:
    """The sum of a column over rows alike."""
    return sql.func.sum(column)


def _found_there(row: Any) -> tuple[Any, ...]:
    """What of a call's outcome other calls on its door hang on."""
    return () if row is None else (row.site, row.door, row.day, row.result, row.complaint, row.cause, row.share)


def _outcome(connection: Connection, query: sql.Select[*tuple[Any, ...]]) -> OutcomeRow | None:
    """The first outcome that a question finds."""
    rows = connection.execute(query).mappings()
    return OutcomeRow(**rows[0]) if rows else None


def _left_before(row: Any) -> sql.ColumnElement[bool]:
    """Which calls left the door out of service that another then put right."""
    there = sql.select(OUTCOME.c.call_id).where(OUTCOME.c.site == row.site, OUTCOME.c.door == row.door)
    days = OUTCOME.c.day.between(row.day - SAME_FAULT_DAYS, row.day)
    return CALL.c.id.in_(there.where(OUTCOME.c.result == _LEFT, days))


def _names(row: FindingRow) -> tuple[str, ...]:
    return row.cause, row.check_id, row.answer


def _numbered(row: FindingRow, number: int) -> dict[str, Any]:
    """A finding as it is kept: under one number in place of its names."""
    return {**{name: value for name, value in asdict(row).items() if name not in _NAMES}, "named": number}


def _tally_rows(findings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What kept findings come to, by quarter and number, in the order that all take them in: nobody waits in a ring."""
    sums: dict[tuple[int, int], dict[str, Any]] = {}
    for row in findings:
        at = row["period"], row["named"]
        held = sums.setdefault(at, {"period": at[0], "named": at[1], **dict.fromkeys(_TALLIED, 0)})
        for name in ("share", "sure"):
            held[name] += row[name]
        held["readings"] += row["share"] * (row["value"] or 0.0)
        held["logs"] += row["share"] * (row["log_value"] or 0.0)
        held["looks"] += row["minutes"] is not None
        held["minutes"] += row["minutes"] or 0.0
    return [sums[at] for at in sorted(sums)]


def _weight(table: Any, weights: Weights) -> sql.ColumnElement[Any]:
    """The weight of a row by its ``period``; 1 for what is not named."""
    return sql.case(dict(weights), value=table.c.period, else_=1.0) if weights else sql.literal(1.0)
