"""Many writers in processes of their own, two of them killed and some cut off: the small form of the benchmark."""

from __future__ import annotations

from benchmarks.shared_store import open_calls, writers


def test_nothing_is_lost_or_doubled_by_kills_and_a_cut_wire(postgres: str) -> None:
    came = writers(postgres, 4, 240)
    assert (came.taken, came.lost, came.doubled, came.gaps) == (240, 0, 0, 0)
    assert came.killed == 2 and came.cut >= 1
    assert came.differences_listed == came.differences_expected == 40


def test_the_open_calls_are_found_among_many(place: str) -> None:
    _, found = open_calls(place, 3_000, 30)
    assert found == 30
