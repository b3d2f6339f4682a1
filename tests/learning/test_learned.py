"""What was learnt, as a file beside the trees: written, read, put into them, taken back, and found not to fit."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from diagnose.calls.call import Call
from diagnose.knowledge.learned import (
    Change,
    Learned,
    now,
    read_learned,
    rounded,
    unfit_problems,
    with_learned,
    write_learned,
)
from diagnose.knowledge.load import learned_file, load_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import TreeError
from diagnose.learning.learn import accept, change_in_words, still_to_review, undo
from diagnose.learning.proposing import Proposals
from diagnose.reasoning.situation import make_situation

SMALL = Path(__file__).parents[1] / "small_trees"
FACTS = {"devices": ("photo-eye",), "drive": "trolley"}


def change(trees: Trees, what: str, entry: str, at: str, to: object, **more: object) -> Change:
    blank = Change(what=what, entry=entry, at=at, was=0.0, to=to, calls=80, **more)  # type: ignore[arg-type]
    here = now(trees, blank)
    assert here is not None
    return replace(blank, was=rounded(here))


def every_sort(trees: Trees) -> list[Change]:
    return [
        change(trees, "base rate", "eye-dead", "", 0.042),
        change(trees, "complaint", "eye-dead", "eye-lamp-wrong", 0.7),
        change(trees, "answers", "eye-dead", "eye-lamp-transmitter", {"steady": 0.2, "dark": 0.8}),
        change(trees, "sound answers", "eye-lamp-transmitter", "", {"steady": 0.9, "dark": 0.1}),
        change(trees, "reading", "eye-supply-low", "eye-volts-far-end", 16.2),
        change(trees, "minutes of check", "eye-lamp-receiver", "", 2.5),
        change(trees, "minutes of remedy", "remake-splice", "", 31.0),
        change(trees, "success of remedy", "remake-splice", "eye-wiring-open", 0.6),
    ]


def test_every_sort_of_change_is_made_where_it_says(small_trees: Trees) -> None:
    changes = every_sort(small_trees)
    learnt, unfit = with_learned(small_trees, Learned(changes=tuple(changes)))
    assert not unfit
    for each in changes:
        there = now(learnt, each)
        assert there == (pytest.approx(each.to) if not isinstance(each.to, dict) else each.to), each.what
    assert now(small_trees, changes[0]) == pytest.approx(0.014)


def test_trees_with_what_was_learnt_say_so_in_every_event(small_trees: Trees) -> None:
    learnt, _ = with_learned(small_trees, Learned(changes=(every_sort(small_trees)[2],)))
    other, _ = with_learned(small_trees, Learned(changes=(every_sort(small_trees)[0],)))
    digests = {Call(each, FACTS, ["eye-lamp-wrong"]).events[0].digest for each in (small_trees, learnt, other)}
    assert len(digests) == 3 and "" not in digests


def test_a_file_comes_back_as_it_was_written(small_trees: Trees, tmp_path: Path) -> None:
    file = tmp_path / "deep" / "trees.learned.yaml"
    accept(file, small_trees, every_sort(small_trees), "A. Example", date(2031, 5, 4))
    read = read_learned(file)
    assert [each.place for each in read.changes] == [each.place for each in every_sort(small_trees)]
    assert {(each.by, each.on) for each in read.changes} == {("A. Example", "2031-05-04")}
    assert "from:" in file.read_text() and "accepted-by:" in file.read_text()
    assert read.trees == small_trees.digest


def test_the_loader_applies_the_file_it_is_given(small_trees: Trees, tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    assert load_trees(SMALL, cache=False, learned=file).digest == small_trees.digest
    accept(file, small_trees, every_sort(small_trees), "A. Example", date(2031, 5, 4))
    assert load_trees(SMALL, cache=False, learned=file).remedies["remake-splice"].minutes == 31.0
    assert (
        load_trees(SMALL, cache=False).remedies["remake-splice"].minutes
        == small_trees.remedies["remake-splice"].minutes
    )


def test_what_was_accepted_can_be_taken_back(small_trees: Trees, tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    accept(file, small_trees, every_sort(small_trees), "A. Example", date(2031, 5, 4))
    assert undo(file, "remake-splice") == 2
    assert load_trees(SMALL, cache=False, learned=file).remedies["remake-splice"].minutes == 20
    assert undo(file) == len(every_sort(small_trees)) - 2
    assert not file.exists()
    assert load_trees(SMALL, cache=False, learned=file).digest == small_trees.digest


def test_a_number_that_its_author_changed_is_the_authors_again(small_trees: Trees, tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    accept(file, small_trees, every_sort(small_trees), "A. Example", date(2031, 5, 4))
    dead = replace(small_trees.causes["eye-dead"], base=0.02)
    written = replace(small_trees, causes={**small_trees.causes, "eye-dead": dead})
    learnt, unfit = with_learned(written, read_learned(file))
    assert learnt.causes["eye-dead"].base == 0.02
    assert [each.change.what for each in unfit] == ["base rate"]
    (problem,) = unfit_problems(file, unfit)
    assert problem.severity == "warning" and problem.place.file == str(file)
    assert "eye-dead" in file.read_text().splitlines()[problem.place.line - 1 : problem.place.line + 2][1]


@pytest.mark.parametrize(
    "bad",
    [
        Change(what="base rate", entry="gone", was=0.01, to=0.02, calls=9),
        Change(what="base rate", entry="eye-dead", was=0.014, to=1.5, calls=9),
        Change(what="base rate", entry="eye-dead", was=0.014, to=float("nan"), calls=9),
        Change(what="minutes of remedy", entry="remake-splice", was=20.0, to=-3.0, calls=9),
        Change(what="base rate", entry="eye-dead", when={"drive": "steam"}, was=0.014, to=0.02, calls=9),
        Change(what="answers", entry="eye-dead", at="eye-lamp-transmitter", was=0.5, to=0.5, calls=9),
        Change(
            what="answers",
            entry="eye-dead",
            at="eye-lamp-transmitter",
            was={"steady": 0.5, "dark": 0.5},
            to={"steady": 0.5, "blue": 0.5},
            calls=9,
        ),
        Change(what="reading", entry="eye-supply-low", at="eye-volts-far-end", was=17.0, to=900.0, calls=9),
    ],
)
def test_what_cannot_be_is_not_put_into_the_trees(small_trees: Trees, bad: Change) -> None:
    learnt, unfit = with_learned(small_trees, Learned(changes=(bad,)))
    assert learnt == small_trees and len(unfit) == 1 and unfit[0].why


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("changes: }", 1),
        ("other: 3\n", 1),
        ("changes:\n- what: base rate\n  entry: eye-dead\n", 2),
        ("trees: x\nchanges:\n- {what: guess, entry: a, from: 1, to: 2, calls: 3}\n", 3),
        ("- 1\n", 1),
    ],
)
def test_a_file_that_cannot_be_read_says_where(tmp_path: Path, text: str, line: int) -> None:
    file = tmp_path / "x.yaml"
    file.write_text(text)
    with pytest.raises(TreeError) as caught:
        load_trees(SMALL, cache=False, learned=file)
    assert {problem.place.line for problem in caught.value.problems} == {line}


def test_a_rate_of_one_kind_of_door_is_that_kinds_alone(small_trees: Trees) -> None:
    of_kind = change(small_trees, "base rate", "eye-dead", "", 0.2, when={"drive": "trolley"})
    learnt, unfit = with_learned(small_trees, Learned(changes=(of_kind,)))
    assert not unfit

    def chance(trees: Trees, facts: dict[str, object]) -> float:
        situation = make_situation(trees, facts, ["eye-lamp-wrong"])  # type: ignore[arg-type]
        return float(situation.prior[situation.causes.index("eye-dead")])

    trolley, jackshaft = {**FACTS}, {**FACTS, "drive": "jackshaft"}
    assert chance(learnt, trolley) > 2 * chance(small_trees, trolley)
    assert chance(learnt, jackshaft) == chance(small_trees, jackshaft)
    assert chance(learnt, {"devices": ("photo-eye",)}) == chance(small_trees, {"devices": ("photo-eye",)})


def test_what_is_accepted_is_not_proposed_again(small_trees: Trees) -> None:
    changes = tuple(every_sort(small_trees))
    assert still_to_review(Proposals(changes, (), 0), Learned(changes=changes), small_trees) == ()
    rate = next(each for each in changes if each.what == "base rate")
    assert still_to_review(Proposals((replace(rate, to=0.09),), (), 0), Learned(changes=changes), small_trees)


def test_every_sort_of_change_is_said_in_words(small_trees: Trees) -> None:
    for each in every_sort(small_trees):
        said = change_in_words(small_trees, each)
        assert "→" in said and said.endswith(("on 80 calls", "the cause of 80 calls"))


def test_where_the_file_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("DIAGNOSE_LEARNED")
    assert learned_file(tmp_path / "my-trees") == tmp_path / "my-trees.learned.yaml"
    assert learned_file(None).name == "trees.learned.yaml"


def test_shares_keep_their_sum_when_they_are_written(small_trees: Trees, tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    thirds = change(
        small_trees, "answers", "eye-dead", "eye-lamp-transmitter", rounded({"steady": 1 / 3, "dark": 2 / 3})
    )
    write_learned(file, Learned(changes=(thirds,)))
    learnt, _ = with_learned(small_trees, read_learned(file))
    spread = learnt.causes["eye-dead"].signs["eye-lamp-transmitter"]
    assert sum(spread.shares.values()) == pytest.approx(1.0, abs=1e-12)  # type: ignore[union-attr]
