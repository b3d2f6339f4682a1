"""What is said of a step from the numbers and the trees."""

from __future__ import annotations

import re

import msgspec
import pytest

from diagnose.calls.call import Call
from diagnose.knowledge.model import Person, Trees, can_do
from diagnose.reasoning.explain import absent, cause_title, consequences, why_check


@pytest.mark.parametrize(
    ("title", "said"),
    [
        ("electrician", "needs an electrician, who is not here"),
        ("licensed electrician", "needs a licensed electrician, who is not here"),
        ("door technician (springs, cables)", "needs a door technician, who is not here"),
        ("the site's own network contact", "needs the site's own network contact, who is not here"),
        ("Inspector", "needs an Inspector, who is not here"),
    ],
)
def test_who_is_missing_is_said_in_a_few_words(small_trees: Trees, title: str, said: str) -> None:
    people = {**small_trees.people, "other": Person(id="other", title=title, includes=("technician",))}
    trees = msgspec.structs.replace(small_trees, people=people)
    step = msgspec.structs.replace(trees.remedies["clean-lenses"], who="other")
    assert absent(trees, step, ["anyone", "technician"]) == said
    assert absent(trees, step, ["other"]) == ""


def test_people_may_do_what_those_they_include_may(small_trees: Trees) -> None:
    people = {
        "one": Person(id="one", title="one", includes=("two",)),
        "two": Person(id="two", title="two", includes=("three", "one")),
        "three": Person(id="three", title="three"),
    }
    trees = msgspec.structs.replace(small_trees, people=people)
    assert can_do(trees, ["one"]) == {"one", "two", "three"}
    assert can_do(trees, ["three", "stranger"]) == {"three", "stranger"}
    step = msgspec.structs.replace(trees.remedies["clean-lenses"], who="three")
    assert absent(trees, step, ["one"]) == ""


@pytest.mark.parametrize(
    "symptom", ["stops-short", "interlock-open", "noisy-operator", "overheats-quits", "curtain-lamp-wrong"]
)
def test_what_would_make_a_cause_likely_makes_it_likelier(shipped_trees: Trees, symptom: str) -> None:
    planner = Call(shipped_trees, symptoms=[symptom]).planner
    causes, belief = planner.standing.situation.causes, planner.standing.belief.causes()
    now = {cause_title(shipped_trees, cause): chance for cause, chance in zip(causes, belief, strict=True)}
    named = 0
    for candidate in planner.candidates:
        said = re.search(r" from “(.+?)”: '(.+?)' would make the latter", why_check(planner, candidate.way.goal))
        if said:
            named += 1
            then = next(each for each in consequences(planner, candidate) if each.answer == said[2])
            assert cause_title(shipped_trees, then.cause) == said[1] and then.probability > now[said[1]]
    assert named >= 5
