"""The table of systems, and the commonest causes of a complaint, on small trees counted by hand."""

from __future__ import annotations

import json

import msgspec
import pytest

from diagnose import Call, load_trees
from diagnose.cli import main
from diagnose.commands.trees import all_rules
from diagnose.knowledge.checker import Book
from diagnose.knowledge.model import System, Trees
from diagnose.knowledge.words import NotUnderstood, read_share
from diagnose.review import systems as review
from diagnose.review.commonest import commonest
from tests.conftest import read_shipped


@pytest.fixture(scope="module")
def shipped() -> Trees:
    return load_trees()


def _with_one_system(trees: Trees) -> Trees:
    """The shipped trees with two causes, three checks and a proof of a system ``s``, and nothing of any other."""
    bare: dict[str, dict[str, object]] = {}
    for kind, most in (("causes", 2), ("checks", 3), ("proofs", 1)):
        entries = getattr(trees, kind)
        bare[kind] = {
            name: msgspec.structs.replace(entry, system=("s",) if index < most else ())
            for index, (name, entry) in enumerate(entries.items())
        }
    return msgspec.structs.replace(trees, systems={"s": System(id="s", title="S")}, **bare)


def test_each_system_is_counted(shipped: Trees, monkeypatch: pytest.MonkeyPatch) -> None:
    trees = _with_one_system(shipped)
    first = next(iter(trees.causes))
    monkeypatch.setattr(review, "_practised", lambda trees: trees.causes[first].system)
    (only,) = review.systems(trees)
    assert dict(only.counts) | {"proofs": 0} == {"causes": 2, "checks": 3, "proofs": 0, "practice calls": 1}
    assert only.short_of["causes"] == 4 and "practice calls" not in only.short_of


def test_a_proof_counts_where_it_is_due(shipped: Trees) -> None:
    trees = _with_one_system(shipped)
    proof = next(iter(trees.proofs.values()))
    remedy = next(iter(next(iter(trees.causes.values())).remedies))

    def counted(required: str, named: bool) -> int:
        proofs = {**trees.proofs, proof.id: msgspec.structs.replace(proof, required=required)}
        remedies = {
            name: msgspec.structs.replace(each, proofs=(proof.id,) if named and name == remedy else ())
            for name, each in trees.remedies.items()
        }
        (only,) = review.systems(msgspec.structs.replace(trees, proofs=proofs, remedies=remedies))
        return only.counts["proofs"]

    assert counted("yes", False) == counted("no", True) == 1
    assert counted("no", False) == 0


def test_a_share_is_of_all_base_rates_and_a_cause_of_two_systems_counts_half_in_each(shipped: Trees) -> None:
    trees = _with_one_system(shipped)
    first, second = (each for each in trees.causes.values() if each.system)
    both = {**trees.causes, second.id: msgspec.structs.replace(second, system=("s", "other"))}
    named = {**trees.systems, "other": System(id="other", title="Other")}
    found = {each.id: each.share for each in review.systems(msgspec.structs.replace(trees, causes=both, systems=named))}
    together = sum(each.base for each in trees.causes.values())
    assert found["s"] == pytest.approx((first.base + second.base / 2) / together)
    assert found["other"] == pytest.approx(second.base / 2 / together)


@pytest.mark.parametrize("written", ["9 per 100 calls", "13 to 9 per 100 calls", "9 to 130 per 100 calls", "some", 0.1])
def test_a_share_that_cannot_be_is_refused(written: object) -> None:
    assert read_share("9 to 13 per 100 calls") == pytest.approx((0.09, 0.13))
    with pytest.raises(NotUnderstood, match="is no share of calls"):
        read_share(written)


def test_what_is_of_no_system_is_named(shipped: Trees) -> None:
    trees = _with_one_system(shipped)
    assert len(review.without(trees)) == len(trees.causes) - 2
    assert review.without(msgspec.structs.replace(trees, systems={})) == ()
    (finding,) = review.system_thin.look(Book(msgspec.structs.replace(trees, places={"systems.s": _place(trees)})))
    assert "2 causes of 4" in finding.wrong


def _unpractised(trees: Trees) -> list[str]:
    """What the rule says of these trees, and of one system more that nothing is of."""
    new = {**trees.systems, "new": System(id="new", title="New")}
    places = {**trees.places, **{f"systems.{name}": _place(trees) for name in new}}
    book = Book(msgspec.structs.replace(trees, systems=new, places=places))
    return [finding.wrong for finding in review.system_unpractised.look(book)]


def test_a_system_that_is_practised_nowhere_is_named_and_a_shops_own_trees_are_asked_for_nothing(
    shipped: Trees, small_trees: Trees
) -> None:
    assert review.system_unpractised in all_rules()
    assert list(review.system_unpractised.look(read_shipped())) == []
    assert _unpractised(shipped) == ["No practice call has a fault of 'new'."]
    assert _unpractised(small_trees) == []


def _place(trees: Trees) -> object:
    return next(iter(trees.places.values()))


def test_the_table_is_printed_and_read_by_programs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trees", "count"]) == 0
    assert "Photo eyes" in capsys.readouterr().out
    assert main(["trees", "count", "--json"]) == 0
    table = json.loads(capsys.readouterr().out)
    assert {row["system"] for row in table["systems"]} == set(load_trees().systems)
    assert table["causes of no system"] == []


def test_the_commonest_causes_are_those_a_call_begins_with(shipped: Trees, capsys: pytest.CaptureFixture[str]) -> None:
    likely = Call(shipped, facts={}, symptoms=["hums-does-not-move"]).likely()
    first = [(each.cause, pytest.approx(each.probability)) for each in likely if each.cause != "unlisted"][:5]
    assert [(each.cause, each.share) for each in commonest(shipped, "hums-does-not-move", 5)] == first
    assert main(["trees", "common", "hums-does-not-move", "--most", "3"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 4
    assert main(["trees", "common", "hums"]) == 2
    assert "is no symptom" in capsys.readouterr().err
