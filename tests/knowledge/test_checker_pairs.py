"""Every pair of causes on every door: the figures against plain sums over all doors, and known ones by hand."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import pytest

from diagnose.knowledge.checker import Book
from diagnose.knowledge.distributions import Beyond, Normal, Shares, centre, probability
from diagnose.knowledge.model import Facts, Trees, applies
from diagnose.reasoning.situation import instrument_error, make_situation
from diagnose.review.pairs import CLEAR_OVERLAP, MISTAKEN, pairs
from diagnose.review.weighing import telling, weigh
from diagnose.review.winners import losers
from tests.knowledge import overlay


@pytest.fixture(scope="module")
def small_book() -> Book:
    return Book.read(Path(__file__).parent.parent / "small_trees")


def _every_door(trees: Trees, facts: tuple[str, ...]) -> list[Facts]:
    choices: list[list[str | tuple[str, ...]]] = []
    for fact in facts:
        answers = trees.facts[fact].answers
        if trees.facts[fact].many == "yes":
            choices.append([c for size in range(len(answers) + 1) for c in itertools.combinations(answers, size)])
        else:
            choices.append(list(answers))
    return [dict(zip(facts, values, strict=True)) for values in itertools.product(*choices)]


def _overlap(book: Book, first: str, second: str, facts: Facts) -> float:
    """∏ Σ √(p·q) over the checks that can be done there, of each group the most telling, written out plainly."""
    best: dict[str, float] = {}
    for name, answers in weigh(book).items():
        check = book.trees.checks[name]
        if applies(check.applies, facts) and {first, second} & set(answers.state_of):
            p, q = (answers.likelihood[answers.state(cause)] for cause in (first, second))
            one = sum(math.sqrt(a * b) for a, b in zip(p, q, strict=True))
            group = check.group or name
            best[group] = min(best.get(group, 1.0), one)
    return math.prod(best.values())


def test_the_worst_door_is_the_worst_of_all(tmp_path: Path) -> None:
    change = {
        "checks": {
            "fuse-ohms": {"applies": {"mounting": "wall"}},
            "socket-volts": {"applies": {"fitted": "counter"}, "group": "socket"},
            "socket-looks": {"applies": {"fitted": ["horn", "counter"]}, "group": "socket"},
            "bulb-ohms": {"applies": {"mounting": "post", "fitted": "horn"}},
        },
        "causes": {"fuse-blown": {"applies": {"fitted": ["horn", "counter"]}}},
    }
    book = overlay.book(tmp_path, change)
    trees = book.trees
    doors = _every_door(trees, ("mounting", "fitted"))
    found = {(pair.first, pair.second): pair for pair in pairs(book)}
    for first, second in itertools.combinations(trees.causes, 2):
        conditions = [trees.symptoms["dark"].applies, trees.causes[first].applies, trees.causes[second].applies]
        here = [door for door in doors if all(applies(each, door) for each in conditions)]
        worst = max(_overlap(book, first, second, door) for door in here)
        assert found[first, second].overlap == pytest.approx(worst)
        assert _overlap(book, first, second, found[first, second].facts) == pytest.approx(worst)


def test_overlap_of_a_question_by_hand(small_book: Book) -> None:
    answers = weigh(small_book)["eye-lamp-receiver"]
    shares = small_book.trees.causes["eye-wiring-open"].signs["eye-lamp-receiver"]
    healthy = small_book.trees.checks["eye-lamp-receiver"].healthy
    assert isinstance(shares, Shares) and isinstance(healthy, Shares)
    slip = small_book.trees.costs.slip
    by_hand = sum(
        math.sqrt(((1 - slip) * shares.shares[a] + slip / 3) * ((1 - slip) * healthy.shares[a] + slip / 3))
        for a in shares.shares
    )
    state = answers.state("eye-wiring-open")
    assert answers.overlap()[0, state] == pytest.approx(by_hand)
    key = (("checks", "eye-lamp-receiver"), ("causes", "eye-wiring-open"))
    assert telling(small_book)[key] == pytest.approx(1 - by_hand)


def test_overlap_of_two_bell_curves(tmp_path: Path) -> None:
    """Two normals of one width overlap by exp(−(Δ/σ)²/8) (Bhattacharyya); cutting the axis may only add to that."""
    change = {
        "costs": {"slip": 0},
        "causes": {"fuse-blown": {"signs": {"socket-volts": {"uniform": None, "normal": ["22 V", "1 V"]}}}},
        "checks": {"socket-volts": {"instrument": None}},
    }
    answers = weigh(overlay.book(tmp_path, change))["socket-volts"]
    overlap = answers.overlap()[0, answers.state("fuse-blown")]
    assert math.exp(-(2**2) / 8) <= overlap <= math.exp(-(2**2) / 8) + 0.02


def test_cells_hold_what_the_spread_holds(small_book: Book) -> None:
    answers = weigh(small_book)["eye-volts-far-end"]
    assert answers.likelihood.sum(axis=1) == pytest.approx(1.0)
    healthy = answers.check.healthy
    assert isinstance(healthy, Normal)
    # Within a standard deviation of the middle, as the display shows it.
    error = instrument_error(answers.check, healthy.mean)
    inside = probability(healthy, healthy.mean - 1.4 * healthy.spread, healthy.mean + 1.4 * healthy.spread, error)
    cells = [
        row
        for cell, row in zip(answers.cells, answers.likelihood[0], strict=True)
        if " to " in cell and _within(cell, healthy.mean, 1.4 * healthy.spread + 1e-6)
    ]
    assert sum(cells) == pytest.approx(inside * (1 - small_book.trees.costs.slip), abs=0.01)


def _within(cell: str, middle: float, reach: float) -> bool:
    low, _, high = cell.rpartition(" ")[0].partition(" to ")
    return middle - reach - 0.1 <= float(low) and float(high) <= middle + reach + 0.1


def test_all_pairs_of_the_shipped_trees(shipped_book: Book) -> None:
    found = list(pairs(shipped_book))
    counted = sum(math.comb(len(symptom.causes), 2) for symptom in shipped_book.trees.symptoms.values())
    assert 0.9 * counted < len(found) <= counted
    assert all(0 <= pair.overlap <= pair.best_overlap + 1e-9 <= 1 + 1e-9 for pair in found)
    for pair in found[::50]:
        enough = pair.mistaken <= MISTAKEN and pair.best_overlap <= CLEAR_OVERLAP
        assert (pair.margin >= 1) == enough or pair.margin == pytest.approx(1)


def test_a_cause_wins_in_the_call_as_in_the_review(tmp_path: Path) -> None:
    """What the review calls a loser loses in the program's own belief, and what it does not, wins there."""
    weak = {"base": "0.1 per 1000 calls", "signs": {"fuse-ohms": None, "socket-volts": {"uniform": ["3 V", "18 V"]}}}
    for change, lost in (({}, set()), ({"causes": {"fuse-blown": weak}}, {"fuse-blown"})):
        book = overlay.book(tmp_path, change)
        assert {loser.cause for loser in losers(book)} == lost
        for cause in book.trees.causes:
            assert (_leader(book.trees, cause) == cause) == (cause not in lost)


def _leader(trees: Trees, cause: str) -> str:
    """Who leads in a call in which every check is answered as ``cause`` most probably would have it."""
    from diagnose.calls.call import Call

    call = Call(trees, {"fitted": ["lamp", "horn", "counter"], "mounting": "wall"}, ["dark"])
    for check in (trees.checks[name] for name in make_situation(trees, call.state.facts, ["dark"]).tables):
        state = trees.causes[cause].signs.get(check.id, check.healthy)
        if isinstance(state, Shares):
            call.answer(check.id, max(state.shares, key=lambda answer: state.shares[answer]))
        elif isinstance(state, Beyond):
            call.answer(check.id, "OL")
        else:
            assert state is not None
            call.answer(check.id, f"{centre(state)} {check.unit}")
    return call.likely()[0].cause
