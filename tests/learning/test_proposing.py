"""What counts propose: the truth where there are many calls, next to nothing where there are few."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from diagnose.knowledge.learned import Learned, with_learned
from diagnose.knowledge.model import Fact, Trees
from diagnose.learning.proposing import propose, worth
from diagnose.learning.records import AnswerCount, Counts, TrialCount
from diagnose.reasoning.situation import make_situation

FACTS = {"devices": ("photo-eye",), "drive": "trolley"}
SUSPECTS = ("eye-out-of-line", "eye-wiring-open", "eye-supply-low", "eye-lens-dirty", "eye-dead")


def counts(**some: Any) -> Counts:
    none: dict[str, Any] = {
        "causes": {},
        "complaints": {},
        "raised": [],
        "answers": [],
        "trials": [],
        "check_minutes": {},
        "remedy_minutes": {},
        "calls": 0,
    }
    return Counts(**{**none, **some})


def looks(cause: str, check: str, **seen: int) -> list[AnswerCount]:
    return [
        AnswerCount(cause, check, name.replace("_", " "), float(n), n, 0.0, 0.0) for name, n in sorted(seen.items())
    ]


def by_what(trees: Trees, found: Counts) -> dict[tuple[str, str, str], Any]:
    return {(each.what, each.entry, each.at): each for each in propose(trees, found).changes}


def two_complaints(trees: Trees) -> Trees:
    """A second complaint of the same causes, reported less often."""
    first = trees.symptoms["eye-lamp-wrong"]
    second = replace(first, id="eye-dark", causes={cause: chance / 2 for cause, chance in first.causes.items()})
    return replace(trees, symptoms={**trees.symptoms, "eye-dark": second}, digest="two complaints")


@pytest.mark.parametrize("seed", range(3))
def test_many_calls_find_how_likely_a_cause_is_given_a_complaint(small_trees: Trees, seed: int) -> None:
    """Rates are threefold those written or a third, and causes are reported otherwise; both are learnt together."""
    trees, random = two_complaints(small_trees), np.random.default_rng(seed)
    names = ("eye-lamp-wrong", "eye-dark")
    rates = np.array([trees.causes[cause].base for cause in SUSPECTS]) * 3.0 ** random.choice([-1, 1], 5)
    reported = random.dirichlet([2, 2], 5)
    joint = rates[:, None] * reported
    met = 30000 * joint / joint.sum()
    found = counts(
        causes={(cause, ""): float(met[i].sum()) for i, cause in enumerate(SUSPECTS)},
        complaints={
            (cause, name): float(met[i, j]) for i, cause in enumerate(SUSPECTS) for j, name in enumerate(names)
        },
        raised=[(name, "", SUSPECTS, float(met[:, j].sum())) for j, name in enumerate(names)],
    )
    learnt, unfit = with_learned(trees, Learned(changes=propose(trees, found).changes))
    assert not unfit
    for j, name in enumerate(names):
        situation = make_situation(learnt, FACTS, [name])
        wanted = met[:, j] / met[:, j].sum() * (1 - trees.costs.unlisted)
        prior = [float(situation.prior[situation.causes.index(cause)]) for cause in SUSPECTS]
        assert prior == pytest.approx(list(wanted), rel=0.12)


def test_a_handful_of_calls_changes_nothing(small_trees: Trees) -> None:
    few = counts(
        causes={("eye-dead", ""): 4.0},
        raised=[("eye-lamp-wrong", "", SUSPECTS, 4.0)],
        answers=looks("eye-dead", "eye-lamp-transmitter", dark=4),
        trials=[TrialCount("remake-splice", "eye-wiring-open", 4.0, 0.0)],
        remedy_minutes={"remake-splice": (4.0, 400.0)},
    )
    assert propose(small_trees, few).changes == ()


def test_a_number_yields_by_where_it_came_from(small_trees: Trees) -> None:
    def proposed(source: str) -> float:
        splice = replace(small_trees.remedies["remake-splice"], source=source)
        trees = replace(small_trees, remedies={**small_trees.remedies, "remake-splice": splice})
        timed = counts(remedy_minutes={"remake-splice": (50.0, 2000.0)})
        return float(by_what(trees, timed)["minutes of remedy", "remake-splice", ""].to)

    published, common, estimate = (proposed(each) for each in ("DASMA TDS-364", "common practice", "estimate"))
    assert 20 < published < common < estimate < 40
    assert estimate == pytest.approx((20 * 20 + 2000) / 70, rel=1e-4)
    assert worth(small_trees, "open data, counted by others") == 100
    assert worth(small_trees, "UL 325, from memory") == worth(small_trees, "common practice")


def test_answers_readings_and_remedies(small_trees: Trees) -> None:
    volts = [AnswerCount("eye-supply-low", "eye-volts-far-end", str(q), 10.0, 10, 150.0, 0.0) for q in range(1, 5)]
    found = by_what(
        small_trees,
        counts(
            answers=[*looks("eye-dead", "eye-lamp-transmitter", dark=80, steady=20), *volts],
            trials=[TrialCount("remake-splice", "eye-wiring-open", 60.0, 30.0)],
        ),
    )
    shares = found["answers", "eye-dead", "eye-lamp-transmitter"].to
    assert shares["dark"] == pytest.approx((20 * 0.5 + 80) / 120, abs=0.01)
    assert found["reading", "eye-supply-low", "eye-volts-far-end"].to == pytest.approx((20 * 17 + 600) / 60, rel=1e-4)
    works = small_trees.causes["eye-wiring-open"].remedies["remake-splice"]
    learnt = found["success of remedy", "remake-splice", "eye-wiring-open"].to
    assert learnt == pytest.approx((20 * works + 30) / 80, rel=1e-4)


def test_what_a_sound_door_shows_is_learnt_from_every_cause_that_leaves_it_so(small_trees: Trees) -> None:
    seen = [*looks("eye-lens-dirty", "splice-looks", **{"green or loose": 15, "clean and tight": 25})]
    answers = set(small_trees.checks["splice-looks"].answers)
    seen = [each for each in seen if each.answer in answers]
    change = by_what(small_trees, counts(answers=seen))["sound answers", "splice-looks", ""]
    assert change.to["green or loose"] > change.was["green or loose"]


def test_a_wrong_likelihood_is_flagged_and_true_ones_are_not(small_trees: Trees) -> None:
    random = np.random.default_rng(5)
    seen: list[AnswerCount] = []
    for cause in small_trees.causes.values():
        for check, spread in cause.signs.items():
            shares = getattr(spread, "shares", None) or dict.fromkeys("1234", 0.25)
            wrong = (cause.id, check) == ("eye-wiring-open", "eye-lamp-receiver")
            true = {"steady": 0.2, "blinking": 0.3, "dark": 0.5} if wrong else shares
            met = random.multinomial(150, [0.98 * p + 0.02 / len(true) for p in true.values()])
            seen += looks(cause.id, check, **{a: int(n) for a, n in zip(true, met, strict=True) if n})
    found = propose(small_trees, counts(answers=seen))
    assert [(each.cause, each.check) for each in found.flags] == [("eye-wiring-open", "eye-lamp-receiver")]
    assert found.flags[0].calls == 150 and found.tested > 15


def test_a_kind_of_door_with_rates_of_its_own_is_told_apart(small_trees: Trees) -> None:
    drive = replace(small_trees.facts["drive"], kind="yes")
    assert isinstance(drive, Fact)
    trees = replace(small_trees, facts={**small_trees.facts, "drive": drive}, digest="kinds")
    kinds = {"trolley": (40, 40, 10, 40, 30), "jackshaft": (40, 40, 10, 40, 150)}
    found = counts(
        causes={(c, kind): float(n) for kind, each in kinds.items() for c, n in zip(SUSPECTS, each, strict=True)},
        raised=[("eye-lamp-wrong", kind, SUSPECTS, float(sum(each))) for kind, each in kinds.items()],
    )
    of_kind = {(each.entry, *each.when.values()) for each in propose(trees, found).changes if each.when}
    assert ("eye-dead", "trolley") in of_kind
    assert all(kind in kinds for _, kind in of_kind)
