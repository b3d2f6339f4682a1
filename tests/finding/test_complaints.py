"""What people say finds what they complain of: directions, denials, slips, and two complaints in one sentence."""

from __future__ import annotations

import pytest

from diagnose.finding.complaints import both_meant, families_by_use, how_common, match, plain_match
from diagnose.finding.meant import meant
from diagnose.knowledge.model import Trees


def first(trees: Trees, said: str) -> str:
    return match(trees, said)[0].symptom.id


@pytest.mark.parametrize(
    ("said", "symptom"),
    [
        ("we hear humming but it doesn't move", "hums-does-not-move"),
        ("one side is lower than the other", "door-crooked"),
        ("there was a loud bang and now it is really heavy", "loud-bang"),
        ("the horn no longer sounds before it closes", "warning-silent"),
        ("the chain came off", "chain-off"),
        ("smells like burning", "burning-smell"),
        ("el motor zumba pero la puerta no se mueve", "hums-does-not-move"),
        ("se salió la cadena", "chain-off"),
        ("huele a quemado arriba", "burning-smell"),
    ],
)
def test_words_find_their_complaint(shipped: Trees, said: str, symptom: str) -> None:
    matches = match(shipped, said)
    assert matches[0].symptom.id == symptom
    found = plain_match(matches)
    assert found is not None and found.id == symptom


@pytest.mark.parametrize("said", ["", "   ", "the it a", "xyzzy qqqq", "¿?"])
def test_words_that_say_nothing_find_nothing(shipped: Trees, said: str) -> None:
    assert match(shipped, said) == [] and plain_match([]) is None


def test_each_complaint_is_found_by_its_own_words(shipped: Trees) -> None:
    first = sum(match(shipped, symptom.caller)[0].symptom.id == symptom.id for symptom in shipped.symptoms.values())
    assert first >= 0.97 * len(shipped.symptoms)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("it goes up and will not come down", "it comes down and will not go up again by the button"),
        ("the horn does not sound", "the horn does not stop"),
        ("closes by itself", "opens by itself"),
        ("reverses at the floor", "reverses half way down"),
        ("the remote works only from close by", "the remote does not work"),
    ],
)
def test_directions_denials_and_small_words_tell_complaints_apart(shipped: Trees, one: str, other: str) -> None:
    assert {each.symptom.id: round(each.chance, 6) for each in match(shipped, one)} != {
        each.symptom.id: round(each.chance, 6) for each in match(shipped, other)
    }


def test_what_is_denied_is_not_what_is_said(shipped: Trees) -> None:
    assert first(shipped, "the horn wont stop") == "warning-without-end"
    assert first(shipped, "the horn wont sound") == "warning-silent"
    assert first(shipped, "only works when I hold the button") == "closes-only-while-held"


@pytest.mark.parametrize(
    ("slips", "symptom"),
    [
        ("the chian came of", "chain-off"),
        ("motor hums but dosent moov", "hums-does-not-move"),
        ("brekaer trips rihgt away", "trips-at-once"),
        ("remot contrl stoped workign", "remote-not-heard"),
    ],
)
def test_slips_of_the_keys_are_seen_through(shipped: Trees, slips: str, symptom: str) -> None:
    assert first(shipped, slips) == symptom


def test_two_complaints_in_one_sentence_are_both_seen(shipped: Trees) -> None:
    matches = match(shipped, "the chain came off and it smells like burning")
    assert {symptom.id for symptom in both_meant(matches)} == {"chain-off", "burning-smell"}
    assert [each.part for each in matches[:2]] == ["the chain came off", "it smells like burning"]
    likely = [each.symptom.id for each in match(shipped, "wont close and its making a grinding noise")[:2]]
    assert "noisy-operator" in likely
    assert both_meant(match(shipped, "goes up and comes down again")) == []
    assert both_meant(match(shipped, "the chain came off")) == []


def test_chances_are_shares_and_what_does_not_apply_has_none(shipped: Trees) -> None:
    matches = match(shipped, "it wont shut")
    assert sum(each.chance for each in matches) <= 1 + 1e-9
    assert all(matches[n].chance >= matches[n + 1].chance for n in range(len(matches) - 1))
    assert plain_match(matches) is None, "it may be one of several"
    with_remote = match(shipped, "remote does nothing")
    without = match(shipped, "remote does nothing", {"devices": ("photo-eye",)})
    assert with_remote[0].symptom.id == "remote-not-heard"
    assert "remote-not-heard" not in {each.symptom.id for each in without}


def test_words_of_a_cause_find_what_it_shows_as(shipped: Trees) -> None:
    found = meant(shipped, "capacitor")
    assert not found.sure and "hums-does-not-move" in {symptom.id for symptom in found.behind}
    assert meant(shipped, "qqqq").all == ()


def test_families_stand_by_how_common_they_are(shipped: Trees) -> None:
    families = families_by_use(shipped)
    shares = [sum(how_common(shipped, symptom) for symptom in group) for group in families.values()]
    assert shares == sorted(shares, reverse=True)
    assert sum(len(group) for group in families.values()) == len(shipped.symptoms)
    for group in families.values():
        assert group == sorted(group, key=lambda symptom: -how_common(shipped, symptom))


@pytest.mark.parametrize(
    ("said", "symptom"),
    [
        ("se va para abajo sola la puerta", "drifts-down"),
        ("el control ya no abre", "remote-not-heard"),
        ("la puerta esta chueca", "door-crooked"),
        ("sube pero ya no baja", "runs-one-way-only"),
        ("toca el piso y se vuelve a subir", "reverses-at-floor"),
        ("se bota la pastilla cuando arranca", "trips-at-once"),
    ],
)
def test_spanish_is_understood_as_well(shipped: Trees, said: str, symptom: str) -> None:
    assert first(shipped, said) == symptom
