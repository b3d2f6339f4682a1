"""What a shop gains by its own closed calls, how soon a wrong number is noticed, and what counting them costs.

    python -m benchmarks.learning                 # minutes, flags and bias, on simulated shops; some minutes
    python -m benchmarks.learning --flags         # when a wrong likelihood is noticed
    python -m benchmarks.learning --scale 20000   # counting so many calls inside SQLite
    python -m benchmarks.learning --scale 1000000 --store postgresql://host/name

The shop's true rates are three times, or a third of, those that are shipped. Its calls are worked on with the shipped
trees, closed, and learnt from; every proposal is accepted. Minutes are then compared on the same doors, drawn from the
truth and played with the same luck: with the shipped trees, what was learnt, and the truth.
"""

from __future__ import annotations

import argparse
import math
import resource
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec
import numpy as np
import sqlalchemy as sql

from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.learned import Learned, with_learned
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees, applies
from diagnose.learning.learn import learn
from diagnose.learning.lessons import raised_name
from diagnose.learning.records import SHAPES, TALLIED, Lessons
from diagnose.practice.simulated import Choice, Draw, planned
from tests.learning.shops import TrueCall, a_door, played, shop

# Complaints that a shop might mostly meet, of families far apart.
COMPLAINTS = ("will-not-close-on-timer", "hums-does-not-move", "eye-lamp-wrong", "reverses-at-floor")


def other_rates(trees: Trees, seed: int, factor: float = 3.0) -> Trees:
    """The trees of a shop whose base rates are ``factor`` times, or one part in so many of, those that are shipped.

    By the toss of a coin; in shop 0 the commoner half is the rarer and the rarer the commoner, which misleads most.
    """
    random = np.random.default_rng(seed)
    middle = statistics.median(cause.base for cause in trees.causes.values())
    causes = {}
    for name, cause in trees.causes.items():
        up = random.random() < 0.5 if seed else cause.base < middle
        causes[name] = msgspec.structs.replace(cause, base=min(cause.base * factor ** (1 if up else -1), 0.5))
    return msgspec.structs.replace(trees, causes=causes, digest=f"{trees.digest} shop {seed}")


def lessons_of(place: Path, trees: Trees, calls: Sequence[Sequence[object]]) -> Lessons:
    store = Store.open(place)
    for events in calls:
        store.append(store.begin(), *events)  # type: ignore[arg-type]
    lessons = Lessons.of(store)
    lessons.catch_up(trees)
    return lessons


# Doors on which minutes are judged come in lots of the same facts, and of causes in the shares that they truly have.
_ALIKE = 20


@dataclass(frozen=True)
class Judged:
    """A door on which minutes are judged, its lot, and the seed of its luck."""

    draw: Draw
    lot: int
    seed: int


def doors_to_judge(truth: Trees, complaints: Sequence[str], doors: int, seed: int) -> list[Judged]:
    """So many doors, by systematic sampling: within a lot causes stand in a row, each as wide as it is likely, and are
    met at even steps from a chance beginning. Every door is met as often as by mere chance, with less noise."""
    made = []
    for lot in range(max(doors // _ALIKE, 2)):
        random = np.random.default_rng([seed, lot])
        complaint = complaints[lot % len(complaints)]
        facts = a_door(truth, random, complaint).facts
        pointed = truth.symptoms[complaint].causes
        causes = [cause for cause in pointed if applies(truth.causes[cause].applies, facts)]
        ends = np.cumsum([truth.causes[cause].base * pointed[cause] for cause in causes])
        at = (random.random() + np.arange(_ALIKE)) / _ALIKE * ends[-1]
        for cause in np.searchsorted(ends, at):
            made.append(Judged(Draw(facts, complaint, (causes[cause],)), lot, int(random.integers(2**31))))
    return made


class Remembering:
    """The program's own choices; what it chose after the same entries is not worked out again."""

    def __init__(self) -> None:
        self._chosen: dict[bytes, Choice] = {}

    def __call__(self, call: Call, random: np.random.Generator) -> Choice:
        said = msgspec.json.encode([msgspec.structs.replace(event, at="") for event in call.events])
        if said not in self._chosen:
            self._chosen[said] = planned(call, random)
        return self._chosen[said]


def minutes(known: Trees, truth: Trees, doors: Sequence[Judged]) -> np.ndarray:
    """Minutes to a proven door by whoever knows ``known``, [lots]: the same doors have the same luck for everybody."""
    policy, took = Remembering(), np.zeros(doors[-1].lot + 1)
    for door in doors:
        took[door.lot] += TrueCall(truth, door.draw, door.seed, known=known).run(policy).clock / _ALIKE
    return took


def saved(shipped: np.ndarray, here: np.ndarray, best: np.ndarray) -> str:
    """Minutes by the lot, in words: their mean, how much fewer in per cent, and how much of the way to the best, each
    with its 95 % interval by the spread of lots (of the way: by resampling them)."""
    lots = len(here)
    less = 196 * (shipped - here).std(ddof=1) / np.sqrt(lots) / shipped.mean()
    again = np.random.default_rng(0).integers(0, lots, (4000, lots))
    ways = (shipped - here)[again].mean(1) / (shipped - best)[again].mean(1)
    low, high = np.quantile(ways, (0.025, 0.975))
    way = (shipped - here).mean() / (shipped - best).mean()
    return (
        f"{here.mean():.1f} minutes ({100 * (here.mean() / shipped.mean() - 1):+.1f} ± {less:.1f} %),"
        f" {100 * way:.0f} % of the way to all-knowing ({100 * low:.0f} to {100 * high:.0f})"
    )


def gained(trees: Trees, seed: int, complaints: Sequence[str], doors: int, after: Sequence[int]) -> None:
    truth = other_rates(trees, seed)
    judged = doors_to_judge(truth, complaints, doors, 77000 + seed)
    shipped, best = minutes(trees, truth, judged), minutes(truth, truth, judged)
    print(f"shop {seed}: {len(judged)} doors in {len(shipped)} lots; shipped {shipped.mean():.1f} minutes", flush=True)
    print(f"  all-knowing: {saved(shipped, best, best)}", flush=True)
    closed = shop(trees, truth, complaints, max(after), 1000 * seed)
    for calls in after:
        with tempfile.TemporaryDirectory() as folder:
            lessons = lessons_of(Path(folder) / "shop.sqlite3", trees, closed[:calls])
            found = learn(trees, lessons).proposals
            if calls == max(after):
                bias(lessons, truth)
            lessons.close()
        rates = tuple(change for change in found.changes if change.what in ("base rate", "complaint"))
        for name, changes in ((f"{len(found.changes)} changes", found.changes), (f"{len(rates)} rates alone", rates)):
            learnt, unfit = with_learned(trees, Learned(changes=changes))
            assert not unfit
            said = saved(shipped, minutes(learnt, truth, judged), best)
            print(f"  after {calls:4d} calls, {name}: {said}", flush=True)
        print(f"  after {calls:4d} calls: {len(found.flags)} flags", flush=True)


def bias(lessons: Lessons, truth: Trees) -> None:
    """How far shares of answers are off the truth, counted where the check was put, and among all calls of a cause."""
    counts = lessons.counts({})
    of_cause: dict[str, float] = {}
    for (cause, _), share in counts.causes.items():
        of_cause[cause] = of_cause.get(cause, 0.0) + share
    put: dict[tuple[str, str], dict[str, float]] = {}
    for each in counts.answers:
        put.setdefault((each.cause, each.check), {})[each.answer] = each.weighted
    off: dict[str, list[tuple[float, float]]] = {"where it was put": [], "among all calls of the cause": []}
    for (cause, check), seen in put.items():
        spread = truth.causes[cause].signs.get(check)
        asked = sum(seen.values())
        if not isinstance(spread, Shares) or asked < 15:
            continue
        answer = max(spread.shares, key=lambda each: spread.shares[each])
        slip = truth.costs.slip
        true = (1 - slip) * spread.shares[answer] + slip / len(spread.shares)
        for name, among in zip(off, (asked, of_cause[cause]), strict=True):
            off[name].append((seen.get(answer, 0.0) / among - true, asked))
    for name, each in off.items():
        errors, weights = np.array([e for e, _ in each]), np.array([w for _, w in each])
        if len(each):
            mean, each_off = np.average(errors, weights=weights), np.sqrt(np.average(errors**2, weights=weights))
            what = f"a cause's commonest answer, counted {name}"
            print(f"  {what}: off by {mean:+.3f} on the average, {each_off:.3f} each ({len(each)} of them)", flush=True)


# The likelihoods that are wrong in the trees, and what they truly are: from what is thought almost certain to even,
# probable to even, even to rare.
WRONG = (
    ("eye-wiring-open", "eye-lamp-receiver", {"dark": 0.5, "blinking": 0.3, "steady": 0.2}),
    ("eye-lens-dirty", "eye-lamp-receiver", {"dark": 0.45, "blinking": 0.45, "steady": 0.1}),
    ("eye-dead", "eye-lamp-transmitter", {"steady": 0.9, "dark": 0.1}),
)


def noticed(trees: Trees, most: int = 300, step: int = 20) -> None:
    """After how many calls that met it a wrong likelihood is flagged; every other is true, and none of them may be."""
    for number, (cause, check, shares) in enumerate(WRONG):
        entry = trees.causes[cause]
        signs = {**entry.signs, check: Shares(shares)}
        causes = {**trees.causes, cause: msgspec.structs.replace(entry, signs=signs)}
        truth = msgspec.structs.replace(trees, causes=causes, digest=f"{trees.digest} {number}")
        with tempfile.TemporaryDirectory() as folder:
            store = Store.open(Path(folder) / "shop.sqlite3")
            lessons, met, found = Lessons.of(store), 0, False
            for call in range(most):
                random = np.random.default_rng([number, call])
                draw = a_door(truth, random, "eye-lamp-wrong")
                draw = Draw(draw.facts, draw.symptom, (cause,) if call % 2 else draw.faults)
                store.append(store.begin(), *played(trees, truth, draw, 500 + call))
                if call % step:
                    continue
                lessons.catch_up(trees)
                flags = learn(trees, lessons).proposals.flags
                counts = lessons.counts({}).answers
                met = sum(each.sure for each in counts if (each.cause, each.check) == (cause, check))
                if found := any((each.cause, each.check) == (cause, check) for each in flags):
                    break
            others = [f"{each.cause} at {each.check}" for each in flags if (each.cause, each.check) != (cause, check)]
            store.close()
        said = f"flagged after {met} calls that met it" if found else f"not flagged after {met} calls that met it"
        print(f"wrong: {cause} at {check}: {said}; flagged besides: {', '.join(others) or 'none'}", flush=True)


# --- what counting costs ---------------------------------------------------------------------------------------------

# Findings of a call; and how often each measurement is made: the quickest counts, for others work on the machine too.
_EACH, _ROUNDS = 20, 3


def scaled(trees: Trees, place: str, calls: int) -> None:
    """Rows of so many calls, twenty findings and events each, made by SQL; then counted, beside a bare scan of them."""
    store = Store.open(place)
    lessons = Lessons.of(store)
    begun = time.perf_counter()
    _fill(store, trees, calls)
    print(
        f"{calls} calls, {calls * _EACH} findings and events, made in {time.perf_counter() - begun:.0f} s", flush=True
    )
    bare, grouped = "a bare scan: count and sums", "the same by cause, check and answer"
    sums = "COUNT(*), SUM(share), SUM(value), SUM(minutes) FROM finding"
    scans = {bare: f"SELECT {sums}", grouped: f"SELECT named, {sums} GROUP BY named"}
    # SQLite works inside this program, and a busy machine does not slow down its processor's own clock.
    clock = time.process_time if store._database.kind == "sqlite" else time.perf_counter
    took: dict[str, float] = {}

    def timed(name: str, work: Callable[[], object]) -> None:
        begun = clock()
        work()
        took[name] = min(took.get(name, math.inf), clock() - begun)

    every = lessons.periods()
    for _ in range(_ROUNDS):
        for name, query in scans.items():
            timed(name, lambda query=query: [None for _ in lessons.rows(sql.text(query))])  # type: ignore[misc]
        held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        timed("which calls are behind", lessons.behind)
        for name, periods in (
            ("learn, every quarter counted anew", every),
            ("learn, one quarter anew", every[-1:]),
            ("learn, tallied as calls were kept", []),
        ):
            with store._writing() as connection:
                connection.execute(TALLIED.delete().where(TALLIED.c.period.in_(periods)))
            timed(name, lambda: learn(trees, lessons))
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - held) / 1024
    for name, seconds in took.items():
        print(f"  {name:40s} {seconds:7.2f} s  {seconds / took[bare]:5.2f} ×")
    print(f"  memory of this program grew by {grown:.0f} MB while learning")
    store.close()


def _fill(store: Store, trees: Trees, calls: int) -> None:
    """Tables of names first; then each row takes one by a number of its own."""
    is_file = store._database.kind == "sqlite"
    signs = [
        (number, cause.id, check, answer)
        for number, (cause, check, answer) in enumerate(
            (cause, check, answer)
            for cause in trees.causes.values()
            for check, spread in cause.signs.items()
            for answer in (spread.shares if isinstance(spread, Shares) else ("1", "2", "3", "4"))
        )
    ]
    suspects = list(trees.symptoms["will-not-close-on-timer"].causes)
    series = (
        "WITH RECURSIVE counted(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM counted WHERE n < {last}) "
        if is_file
        else "WITH counted AS (SELECT n FROM generate_series(0, {last}) AS n) "
    )
    name = "'c' || CAST({} AS VARCHAR(20))"
    raised = raised_name("will-not-close-on-timer", suspects)
    names = msgspec.json.encode(suspects).decode()
    made = {each.split()[2]: each for shape in SHAPES for each in shape.statements if each.startswith("CREATE INDEX")}
    indexes = list(made.values())
    with store._writing() as connection:

        def run(statement: str) -> None:
            connection.execute(sql.text(statement))

        connection.execute(
            sql.text("INSERT INTO named VALUES (:id, :cause, :check_id, :answer)"),
            [dict(zip(("id", "cause", "check_id", "answer"), each, strict=True)) for each in signs],
        )
        connection.execute(
            sql.text("INSERT INTO suspicion VALUES (:raised, 'will-not-close-on-timer', :names)"),
            {"raised": raised, "names": names},
        )
        for index in indexes:
            run(f"DROP INDEX {index.split()[2]}")
        for table in () if is_file else ("event", "outcome", "found", "finding", "trial"):
            for key in sql.inspect(connection).get_foreign_keys(table):
                run(f"ALTER TABLE {table} DROP CONSTRAINT {key['name']}")
        last = series.format(last=calls - 1)
        run(f"INSERT INTO call {last} SELECT {name.format('n')}, '2031-05-04', 0, 0 FROM counted")
        run(
            f"INSERT INTO outcome {last} SELECT {name.format('counted.n')}, {_EACH}, 741000 + counted.n % 1800, "
            "8105 + counted.n % 20, 'site ' || CAST(counted.n % 300 AS VARCHAR(9)), '1', 'trolley, sectional', "
            f"'will-not-close-on-timer', '{raised}', 'returned to service', 1, s.cause, 1.0, 'mend', s.cause, 0.8, "
            f"60, 40, 90, 55, 5, 1, 1, 'x', '' FROM counted JOIN named s ON s.id = (counted.n * 31) % {len(signs)}"
        )
        run("INSERT INTO found SELECT call_id, cause, 1.0, period, kind, complaint FROM outcome")
        run("INSERT INTO trial SELECT call_id, 1, remedy, cause, 1.0, period, 1, 30.0 FROM outcome")
        last = series.format(last=calls * _EACH - 1)
        run(f"INSERT INTO event {last} SELECT {name.format(f'n / {_EACH}')}, n % {_EACH} + 1, '{{}}' FROM counted")
        run(
            f"INSERT INTO finding {last} SELECT {name.format(f'counted.n / {_EACH}')}, counted.n % {_EACH} + 1, "
            f"counted.n * 37 % {len(signs)}, CASE WHEN counted.n % 7 = 0 THEN 0.6 ELSE 1.0 END, "
            "CASE WHEN counted.n % 7 = 0 THEN 0 ELSE 1 END, 8105 + counted.n / 20 % 20, "
            "CASE WHEN counted.n % 3 = 0 THEN 20.0 + counted.n % 11 END, "
            "CASE WHEN counted.n % 3 = 0 THEN 3.0 END, 1, 0.1, 2.0 + counted.n % 5 FROM counted"
        )
        for index in indexes:
            run(index)
    with store._writing() as connection:
        connection.execute("ANALYZE")


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shops", default="0,1", help="which shops are simulated, by their numbers")
    parser.add_argument("--after", default="50,500", help="after how many calls minutes are judged")
    parser.add_argument("--doors", type=int, default=200, help="doors on which minutes are judged")
    parser.add_argument("--trees", default=None, help="a folder of trees")
    parser.add_argument("--complaints", default=",".join(COMPLAINTS))
    parser.add_argument("--flags", action="store_true", help="only when a wrong likelihood is noticed")
    parser.add_argument("--scale", type=int, default=0, metavar="CALLS", help="count so many calls, and nothing else")
    parser.add_argument(
        "--store", default="", help="with --scale: an empty database, by its URL; else a file of its own"
    )
    given = parser.parse_args(arguments)
    trees = load_trees(given.trees)
    if given.scale:
        with tempfile.TemporaryDirectory() as folder:
            scaled(trees, given.store or str(Path(folder) / "many.sqlite3"), given.scale)
        return
    if given.flags:
        noticed(load_trees("tests/small_trees"))
        return
    complaints = given.complaints.split(",")
    for seed in map(int, given.shops.split(",")):
        gained(trees, seed, complaints, given.doors, [int(calls) for calls in given.after.split(",")])


if __name__ == "__main__":
    main()
