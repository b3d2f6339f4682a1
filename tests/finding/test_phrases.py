"""How often what people say finds the right complaint, on wordings that the trees do not have."""

from __future__ import annotations

from pathlib import Path

import yaml

from diagnose.finding.complaints import match
from diagnose.knowledge.model import Trees

FILE = Path(__file__).parent / "phrases.yaml"
FEW = 4


def phrases() -> list[tuple[str, set[str]]]:
    """Each wording, and the complaints that it fairly means."""
    read = yaml.safe_load(FILE.read_text(encoding="utf-8"))
    return [
        (str(each["says"]), {each["complaint"]} if isinstance(each["complaint"], str) else set(each["complaint"]))
        for each in read
    ]


def test_the_right_complaint_comes_first_and_almost_always_among_four(shipped: Trees) -> None:
    found = [(right, [each.symptom.id for each in match(shipped, said)[:FEW]]) for said, right in phrases()]
    first = sum(bool(right & set(ids[:1])) for right, ids in found) / len(found)
    among = sum(bool(right & set(ids)) for right, ids in found) / len(found)
    assert first >= 0.85 and among >= 0.97, f"{first:.3f} first, {among:.3f} among {FEW} of {len(found)}"


def test_the_trees_do_not_have_these_wordings_and_these_name_complaints_that_there_are(shipped: Trees) -> None:
    kept = {way.casefold() for symptom in shipped.symptoms.values() for way in symptom.says}
    same = [said for said, _ in phrases() if said.casefold() in kept]
    assert len(same) <= 0.02 * len(phrases()), same
    assert [right for _, right in phrases() if not right <= set(shipped.symptoms)] == []
