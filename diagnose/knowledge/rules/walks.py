"""Rules for walks: work to be done and proved at a door, in order."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Fault, Finding, rule, rule_of
from diagnose.knowledge.model import Walk


@rule_of(["walks"], "job-out-of-order")
def job_out_of_order(book: Book, walk: Walk) -> Iterator[Fault]:
    """A walk has a job before another that the job waits for, or has a job twice.

    Passes:
        walks: {put-up: {stages: {day: {title: Day, jobs: [isolate, connect]}}, …}}
        jobs: {connect: {after: [isolate], …}}
    Fails:
        walks: {put-up: {stages: {day: {title: Day, jobs: [connect, isolate]}}, …}}
    """
    place = {job: number for number, job in reversed(list(enumerate(walk.jobs)))}
    for number, name in enumerate(walk.jobs):
        if place[name] != number:
            yield Fault(f"'{walk.id}' has '{name}' twice.", "Write it once.", ("stages",))
        for before in book.trees.jobs[name].after:
            if place.get(before, -1) > number:
                wrong = f"'{walk.id}' has '{name}' before '{before}', for which it waits."
                yield Fault(wrong, "Change their order, or 'after'.", ("stages",))


@rule("job-on-no-walk", "warning")
def job_on_no_walk(book: Book) -> Iterator[Finding]:
    """A job that no walk has: nobody is ever asked to do it.

    Passes:
        walks: {put-up: {stages: {day: {title: Day, jobs: [isolate]}}, …}}
    Fails:
        jobs: {isolate: {…}}                   # and no walk has it
    """
    walked = {job for walk in book.trees.walks.values() for job in walk.jobs}
    for job in book.trees.jobs:
        if job not in walked:
            yield Finding(book.place("jobs", job), f"'{job}' is on no walk.", "Give it to a stage, or take it out.")


@rule("limit-never-read", "warning")
def limit_never_read(book: Book) -> Iterator[Finding]:
    """A check that wears towards a limit, and no walk reads it: nobody ever sees it coming.

    What is worked out from readings that a walk takes counts as read.

    Passes:
        walks: {yearly: {stages: {measure: {title: Measure, jobs: [chain]}}, …}}
        jobs: {chain: {reads: [chain-pitches], …}}
        checks: {chain-pitches: {worse: higher, limit: at most 6.18 in, …}}
    Fails:
        jobs: {chain: {reads: [], …}}          # and no other job reads chain-pitches
    """
    trees = book.trees
    if not trees.walks:
        return
    reads = {name for walk in trees.walks.values() for job in walk.jobs for name in trees.jobs[job].reads}
    read = reads | {name for each in reads for name in trees.checks[each].sources}
    for check in trees.checks.values():
        if check.limit is None or check.worse in ("", "neither") or check.id in read:
            continue
        inputs = trees.checks.keys() & check.sources
        if not inputs or not read.issuperset(inputs):
            wrong = f"'{check.id}' has a limit, and no walk reads it."
            yield Finding(book.place("checks", check.id, "limit"), wrong, "Give it to a job's 'reads'.")
