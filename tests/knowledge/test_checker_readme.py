"""The authoring guide's worked example, followed to the letter."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from diagnose import Call, load_trees
from diagnose.cli import main
from diagnose.commands.trees import all_rules
from diagnose.shipped import shipped_folder
from tests.knowledge.overlay import Words, laid_over
from tests.knowledge.test_checker_rules import OF_THE_PROGRAM

GUIDE = (shipped_folder("trees") / "README.md").read_text(encoding="utf-8")
EXAMPLE = GUIDE[GUIDE.index("## From nothing") : GUIDE.index("## The kinds of entry")]
BLOCKS = [(match[1], match[2]) for match in re.finditer(r"```(\w+)\n(.*?)```", EXAMPLE, re.DOTALL)]
RULES = [part for rule in all_rules() if rule.name not in OF_THE_PROGRAM for part in ("--rule", rule.name)]


def _write(folder: Path, text: str) -> None:
    head, _, body = text.partition("\n")
    name = re.match(r"# dock/(\S+\.yaml)", head)
    assert name is not None
    file = folder / name[1]
    if head.endswith("changed"):
        below, above = (yaml.load(each, Loader=Words) for each in (file.read_text(encoding="utf-8"), body))
        body = yaml.dump(laid_over(below, above), sort_keys=False)
    file.write_text(body if head.endswith("changed") else text, encoding="utf-8")


SMALLEST = GUIDE[GUIDE.index("## The smallest pack") : GUIDE.index("## From nothing")]


def test_the_smallest_pack_is_whole_and_takes_one_more_cause_in_one_short_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All rules, and a call that is led from the first check to the proof."""
    pack, more = re.findall(r"```yaml\n# kettle/\S+\n(.*?)```", SMALLEST, re.DOTALL)
    assert len(more.splitlines()) <= 15
    (tmp_path / "kettle.yaml").write_text(pack, encoding="utf-8")
    for text in (None, more):
        if text is not None:
            (tmp_path / "scale.yaml").write_text(text, encoding="utf-8")
        assert main(["trees", "check", str(tmp_path)]) == 0
        assert capsys.readouterr().out.endswith("0 errors, 0 warnings\n")
    call = Call(load_trees(tmp_path), symptoms=["stays-cold"])
    for check, answer in (("lamp", "lit"), ("smell", "no"), ("inside", "white crust")):
        call.answer(check, answer)
    assert call.likely()[0].cause == "scaled-up"
    call.tried("descale", worked=True)
    assert call.next_step().id == "boils"


def test_from_nothing_to_a_passing_tree(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    checked = 0
    for kind, text in BLOCKS:
        if kind == "yaml":
            _write(tmp_path, text)
            continue
        assert main(["trees", "check", str(tmp_path), *RULES]) == 0
        printed = capsys.readouterr().out.splitlines()
        for line in text.strip().splitlines():
            assert line in printed
        checked += 1
    assert checked == 2
    # And what is promised after it: the glass first, then a lock before the hand.
    call = Call(load_trees(tmp_path, cache=False), {}, ["lamp-dark"])
    assert call.next_step().id == "glass"
    call.answer("glass", "black")
    step = call.next_step()
    assert (step.kind, step.id, step.goal) == ("energy", "locked off", "new-bulb")


def test_every_key_of_the_guide_is_one(tmp_path: Path) -> None:
    """The examples of single entries are put where they belong, and only what they refer to is missing."""
    from diagnose.knowledge.load import compile_trees
    from diagnose.knowledge.problems import Problems

    rest = GUIDE[GUIDE.index("## The kinds of entry") :]
    kinds = {
        "drive": "facts",
        "will-not-close-on-timer": "symptoms",
        "eye-wiring-open": "causes",
        "remake-splice": "remedies",
        "replace-brake-lining": "remedies",
        "cables-whole": "proofs",
    }
    seen: set[str] = set()
    for match in re.finditer(r"```yaml\n(.*?)```", rest, re.DOTALL):
        loaded: dict[str, Any] = yaml.load(match[1], Loader=Words)
        name = next(iter(loaded))
        if name == "changes":
            # What was learnt stands beside the trees, in a file of its own.
            continue
        whole = name in ("languages", "hazards", "source", "functions", "systems", "walks", "sayings", "components")
        text = match[1] if whole else f"{kinds.get(name, 'checks')}:\n" + re.sub(r"(?m)^", "  ", match[1])
        problems = Problems()
        compile_trees({"guide.yaml": text}, "x", problems)
        wrong = [str(problem) for problem in problems if problem.rule not in ("unknown-id", "circle")]
        wrong = [said for said in wrong if "is no instrument" not in said]
        if name == "eye-volts-far-end":
            wrong = [said for said in wrong if "'minutes' is missing" not in said and "'energy' is missing" not in said]
        if name in ("eye-loop-missing-volts", "functions", "cables-whole", "replace-brake-lining", "languages"):
            wrong = [said for said in wrong if "is missing" not in said]
        assert wrong == [], name
        seen.add(name)
    assert len(seen) == 17


def test_no_file_of_trees_is_longer_than_the_guide_says() -> None:
    files = {file.name: file.read_text(encoding="utf-8") for file in shipped_folder("trees").rglob("*.yaml")}
    assert not {name for name, text in files.items() if "languages:" not in text and len(text.splitlines()) > 1500}
