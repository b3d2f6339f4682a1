"""All that a caller is told or asked can be said in Spanish, and nothing in it is left over from another tree."""

from __future__ import annotations

import pytest

from diagnose.knowledge.model import Trees
from diagnose.knowledge.texts import caller_texts
from diagnose.screening.interview import Question
from diagnose.screening.spoken import PHRASES, Spoken, next_language


def wanted(trees: Trees) -> dict[str, str]:
    """Every key that may be read out: the caller's texts, the answers not worded for callers, our own phrases."""
    keys = dict(caller_texts(trees)) | dict(PHRASES)
    entries = [("checks", check) for check in trees.checks.values()]
    for kind, entry in [*entries, *(("facts", fact) for fact in trees.facts.values())]:
        if entry.caller is not None:
            for answer in entry.answers:
                keys.setdefault(f"{kind}.{entry.id}.caller.answers.{answer}", answer)
    return keys


@pytest.mark.parametrize("language", ["es"])
def test_nothing_is_missing_and_nothing_is_left_over(shipped: Trees, language: str) -> None:
    texts = shipped.languages[language].texts
    keys = wanted(shipped)
    assert [key for key in keys if key not in texts] == []
    assert [key for key in texts if key not in keys] == []


def test_it_is_another_language_and_speaks_politely(shipped: Trees) -> None:
    texts = shipped.languages["es"].texts
    for key, written in wanted(shipped).items():
        said = texts[key]
        # A word both have ("no") may stay; a sentence may not.
        assert said != written or len(written.split()) == 1, key
        # Each question opens as Spanish does, and nobody is spoken to as a child.
        assert said.count("?") == said.count("¿"), said
        words = set(said.casefold().replace("¿", " ").replace(",", " ").split())
        assert not words & {"tú", "tu", "tus", "tienes", "puedes", "mira", "ves", "vosotros"}, said
        for placeholder in ("{answer}",):
            assert (placeholder in written) == (placeholder in said), key


def test_what_is_not_translated_is_read_out_as_it_stands(dock: Trees) -> None:
    spoken = Spoken(dock, "es")
    assert spoken.danger(dock.dangers["caught"]) == "¿Hay alguien herido?"
    assert spoken.danger(dock.dangers["falling"]) == "Does it sink?"
    assert spoken.answer(dock.checks["lamp"], "lit") == "sí, encendida"
    assert spoken.answer(dock.checks["lamp"], "dark") == "no, off"
    assert spoken.answer(dock.checks["lamp"], "could not tell") == "no sé"


def test_other_words_fall_back_on_the_question(dock: Trees) -> None:
    spoken = Spoken(dock)
    assert spoken.plain(dock.checks["lamp"]) == "Look at the box. Is its light burning?"
    assert spoken.plain(dock.checks["springs-look"]) == "Is there a gap in the spring?"


def test_a_fact_is_said_back_in_the_caller_s_words(shipped: Trees) -> None:
    question = Question("fact", "standing", ("yes", "no"), repeat="stuck open")
    assert Spoken(shipped).question(question) == "So: it is stuck open. Is that right?"
    assert Spoken(shipped, "es").question(question) == "Entonces: se quedó abierta. ¿Es así?"
    assert Spoken(shipped, "es").answers(question) == ["sí", "no"]


def test_languages_go_round(dock: Trees) -> None:
    assert [next_language(dock.languages, now) for now in ("", "es", "xx")] == ["es", "", ""]


def test_nobody_is_asked_to_run_the_door_for_a_question(shipped: Trees) -> None:
    """What is looked at while the door runs is asked of a caller from memory, whatever its own words are."""
    for language, words in (("", "please do not run it now"), ("es", "no la mueva ahora")):
        spoken = Spoken(shipped, language)
        for check in shipped.checks.values():
            if check.caller is not None:
                said = spoken.question(Question("check", check.id, check.answers))
                assert (words in said) == (shipped.energy[check.energy].powered == "yes"), said
