"""Skills, what to practise next, and what a trainer sees, from records made by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import pytest

from diagnose.knowledge.model import Trees
from diagnose.practice import telling
from diagnose.practice.progress import exercises, level_for, next_practice, progress_of, weakest_habit
from diagnose.practice.records import Practice, Result, WrongTurn
from diagnose.practice.scenario import Scenario
from diagnose.practice.trainer import class_view

NOON = datetime(2030, 3, 1, 12, 0, tzinfo=UTC)
HABITS = {"safety": 1.0, "result": 1.0, "order": 1.0, "thrift": 1.0}


def practice(
    scenario: Scenario,
    score: float | None,
    day: int = 0,
    trainee: str = "Ana",
    family: str = "sensor-indicator",
    turn: WrongTurn | None = None,
    **habits: float,
) -> Practice:
    result = None
    if score is not None:
        result = Result(
            score=score,
            solved=score >= 50,
            minutes=100 - score / 2,
            money=0.0,
            family=family,
            level=scenario.level,
            habits={**HABITS, **habits},
            wrong_turn=turn,
        )
    at = (NOON + timedelta(days=day)).isoformat(timespec="seconds")
    return Practice(f"p{day}", trainee, scenario, 0, True, "digest", at, result)


def test_a_skill_is_a_mean_in_which_the_latest_counts_most(scenario: Scenario) -> None:
    rising = progress_of([practice(scenario, 20, 0), practice(scenario, 80, 1)])
    falling = progress_of([practice(scenario, 80, 0), practice(scenario, 20, 1)])
    skill = rising.families["sensor-indicator"]
    assert skill.count == 2
    assert skill.share == pytest.approx((0.7 * 0.2 + 0.8) / 1.7)
    assert rising.overall > 0.5 > falling.overall


def test_unfinished_practices_say_nothing(scenario: Scenario) -> None:
    assert progress_of([practice(scenario, None)]).finished == ()
    assert progress_of([]).overall == 0.5


def test_a_good_practice_doubles_the_days_and_a_poor_one_begins_anew(scenario: Scenario) -> None:
    def due(*scores: float) -> timedelta:
        made = progress_of([practice(scenario, score, day) for day, score in enumerate(scores)])
        when = made.families["sensor-indicator"].due
        assert when is not None
        return when - (NOON + timedelta(days=len(scores) - 1))

    assert [due(*[90.0] * count).days for count in (1, 2, 3, 4)] == [1, 2, 4, 8]
    assert due(90, 90, 90, 40).days == 1
    assert due(*[90.0] * 30).days == 64


def test_habits_that_were_not_shown_are_not_held_against_anybody(scenario: Scenario) -> None:
    made = progress_of([practice(scenario, 90), practice(scenario, 90, instruments=0.2)])
    assert made.habits["instruments"].count == 1
    assert weakest_habit(made) == "instruments"
    assert weakest_habit(progress_of([practice(scenario, 90)])) == ""


@pytest.fixture
def shelf(small_trees: Trees, scenario: Scenario) -> tuple[Trees, dict[str, Scenario]]:
    """Two families of one symptom each, three levels in both."""
    symptom = small_trees.symptoms["eye-lamp-wrong"]
    other = msgspec.structs.replace(symptom, id="other", family="other-family")
    trees = msgspec.structs.replace(small_trees, symptoms={**small_trees.symptoms, "other": other})
    scenarios = {}
    for name in ("eye-lamp-wrong", "other"):
        for level in ("easy", "medium", "hard"):
            identity = f"{name}-{level}"
            scenarios[identity] = msgspec.structs.replace(scenario, id=identity, symptoms=(name,), level=level)
    return trees, scenarios


def test_what_was_never_practised_comes_before_what_went_well(shelf: tuple[Trees, dict[str, Scenario]]) -> None:
    trees, scenarios = shelf
    made = progress_of([practice(scenarios["eye-lamp-wrong-easy"], 95)])
    advice = next_practice(trees, scenarios, made, NOON + timedelta(hours=2))
    assert advice is not None
    assert advice.scenario.symptoms == ("other",)
    assert "not practised yet" in advice.why


def test_the_weaker_family_comes_first_and_the_level_suits(shelf: tuple[Trees, dict[str, Scenario]]) -> None:
    trees, scenarios = shelf
    made = progress_of(
        [
            practice(scenarios["eye-lamp-wrong-easy"], 90, 0),
            practice(scenarios["other-easy"], 30, 0, family="other-family"),
        ]
    )
    advice = next_practice(trees, scenarios, made, NOON + timedelta(days=30))
    assert advice is not None
    assert advice.scenario.id == "other-medium", "the easy one was done; of those not done the nearest level"
    assert "due again" in advice.why


def test_what_is_not_due_yet_waits(shelf: tuple[Trees, dict[str, Scenario]]) -> None:
    trees, scenarios = shelf
    good = [practice(scenarios["other-easy"], 80, day, family="other-family") for day in range(4)]
    poor = [practice(scenarios["eye-lamp-wrong-easy"], 85, 3)]
    soon = next_practice(trees, scenarios, progress_of([*good, *poor]), NOON + timedelta(days=5))
    assert soon is not None
    assert soon.scenario.symptoms == ("eye-lamp-wrong",), "due after a day; the other only after eight"


def test_levels_follow_the_skill() -> None:
    assert [level_for(share) for share in (0.1, 0.59, 0.6, 0.79, 0.8, 1.0)] == [
        "easy",
        "easy",
        "medium",
        "medium",
        "hard",
        "hard",
    ]


def test_a_scenario_exercises_what_its_faults_take(small_trees: Trees, scenario: Scenario) -> None:
    assert exercises(small_trees, scenario) >= {"safety", "instruments"}
    lens = msgspec.structs.replace(scenario, causes=("eye-lens-dirty",))
    assert not exercises(small_trees, lens) & {"safety", "instruments"}


def test_nothing_to_practise_is_no_fault(small_trees: Trees) -> None:
    assert next_practice(small_trees, {}, progress_of([]), NOON) is None


# --- the class -----------------------------------------------------------------------------------------------------


def test_a_class_shows_members_common_turns_and_observed_difficulty(scenario: Scenario) -> None:
    turn = WrongTurn(did="Replace the eyes", better="Measure", loss=40)
    other = msgspec.structs.replace(scenario, id="other-lane", title="Another", level="hard")
    practices = [
        practice(scenario, 50, 0, "Ana", turn=turn),
        practice(scenario, 40, 0, "Ben", turn=turn),
        practice(scenario, 45, 0, "Cleo", turn=WrongTurn(did="Guess", better="Look")),
        practice(scenario, 100, 1, "Ana"),
        practice(other, 90, 2, "Ana"),
        practice(other, None, 2, "Ben"),
    ]
    view = class_view(practices)
    assert [(m.name, len(m.progress.finished), m.begun) for m in view.members] == [
        ("Ana", 3, 3),
        ("Ben", 1, 2),
        ("Cleo", 1, 1),
    ]
    assert view.members[0].mean_score == pytest.approx(80)
    assert (view.turns[0].did, view.turns[0].trainees, view.turns[0].times) == ("Replace the eyes", 2, 2)
    hardest, easiest = view.scenarios
    assert (hardest.scenario_id, hardest.tries) == ("quiet-lane", 3), "second tries are left out"
    assert hardest.mean_score == pytest.approx(45)
    assert hardest.turned_out == "hard"
    assert hardest.is_misgraded, "it is graded easy"
    assert not easiest.is_misgraded, "one try says little"
    text = " ".join(line.text for line in telling.whole_class(view))
    assert "turned out hard" in text
    assert "2 trainees, 2 times: Replace the eyes." in text


def test_one_is_not_said_as_many(small_trees: Trees, scenario: Scenario) -> None:
    one = [practice(scenario, 50, 0, "ana")]
    said = " ".join(line.text for line in telling.whole_class(class_view(one)))
    assert "1 try;" in said and "1 tries" not in said
    heading = telling.progress(small_trees, "ana", progress_of(one), one, None)[0].text
    assert heading == "ana: 1 practice, at 50 %"
    none = telling.progress(small_trees, "ana", progress_of([]), [], None)[0].text
    assert none == "ana: no practice finished yet"


def test_names_are_the_same_whatever_their_case(scenario: Scenario) -> None:
    view = class_view([practice(scenario, 50, 0, "ana"), practice(scenario, 70, 1, "ANA")])
    assert [(member.name, len(member.progress.finished)) for member in view.members] == [("ANA", 2)]


def test_a_class_of_nobody_says_so() -> None:
    assert "Nobody" in telling.whole_class(class_view([]))[0].text
