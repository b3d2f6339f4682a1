"""Rules for walks: work to be done and proved at a door, in order."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Finding, rule


@rule("job-out-of-order")
def job_out_of_order(book: Book) -> Iterator[Finding]:
    """A walk has a job before another that the job waits for, or has a job twice.

    Passes:
        walks: {put-up: {stages: {day: {title: Day, jobs: [isolate, connect]}}, …}}
        jobs: {connect: {after: [isolate], …}}
    Fails:
        walks: {put-up: {stages: {day: {title: Day, jobs: [connect, isolate]}}, …}}
    """
    for walk in book.trees.walks.values():
        place = {job: number for number, job in reversed(list(enumerate(walk.jobs)))}
        where = book.place("walks", walk.id, "stages")
        for number, name in enumerate(walk.jobs):
            if place[name] != number:
                yield Finding(where, f"'{walk.id}' has '{name}' twice.", "Write it once.")
            for before in book.trees.jobs[name].after:
                if place.get(before, -1) > number:
                    wrong = f"'{walk.id}' has '{name}' before '{before}', for which it waits."
                    yield Finding(where, wrong, "Change their order, or 'after'.")


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


RULES = (job_out_of_order, job_on_no_walk)
