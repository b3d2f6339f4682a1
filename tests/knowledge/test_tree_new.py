"""Entries that are begun in place: read at once, nothing else changed, and nothing written where it may not be."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diagnose.cli import main
from diagnose.commands.tree_skeletons import with_entry
from diagnose.knowledge.load import load_trees

SMALL = Path(__file__).parent.parent / "small_trees"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(SMALL, tmp_path / "trees")
    (tmp_path / "trees" / "own.yaml").write_text(
        "source: estimate\nsystem: lamps\nsystems: {lamps: {title: Lamps}}\n", encoding="utf-8"
    )
    return tmp_path / "trees"


@pytest.mark.parametrize("kind", ["cause", "check", "remedy"])
@pytest.mark.parametrize("where", [["--file", "new-one"], ["--file", "deeper/new.yaml"], ["--system", "lamps"]])
def test_it_is_read_at_once(kind: str, where: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = load_trees(folder)
    assert main(["--trees", str(folder), "trees", "new", kind, "bracket-rusted", *where]) == 0
    said = capsys.readouterr().out
    assert "bracket-rusted' is begun" in said and "Fill it in" in said
    after = load_trees(folder)
    section = {"cause": "causes", "check": "checks", "remedy": "remedies"}[kind]
    assert set(getattr(after, section)) - set(getattr(before, section)) == {"bracket-rusted"}
    if where[0] == "--system" and kind != "remedy":
        assert getattr(after, section)["bracket-rusted"].system == ("lamps",)


def test_every_line_that_is_left_out_can_be_filled_in(folder: Path) -> None:
    """With the marks taken away, each skeleton holds only keys that there are."""
    for kind, section in (("cause", "causes"), ("check", "checks"), ("remedy", "remedies")):
        assert main(["--trees", str(folder), "trees", "new", kind, f"a-{kind}", "--file", kind]) == 0
        file = folder / f"{kind}.yaml"
        keys = [line.split(":")[0].strip("# ") for line in file.read_text(encoding="utf-8").splitlines()[4:]]
        fields = load_trees(folder).__getattribute__(section)[f"a-{kind}"].__struct_fields__
        known = {field.replace("_", "-") for field in fields}
        assert {key for key in keys if key.islower()} - {"ask"} <= known


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["cause", "Bracket rusted", "--file", "x"], "is no id"),
        (["cause", "eye-dead", "--file", "x"], "is there already"),
        (["cause", "bracket-rusted"], "--file FILE, or --system SYSTEM"),
        (["cause", "bracket-rusted", "--system", "lamp"], "Did you mean 'lamps'?"),
        (["cause", "bracket-rusted", "--file", "../outside"], "is not in the folder"),
    ],
)
def test_what_cannot_be_begun(given: list[str], said: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path: path.read_text(encoding="utf-8") for path in folder.parent.rglob("*.yaml")}
    assert main(["--trees", str(folder), "trees", "new", *given]) == 2
    assert said in capsys.readouterr().err
    assert {path: path.read_text(encoding="utf-8") for path in folder.parent.rglob("*.yaml")} == before


def test_nothing_else_of_a_file_changes() -> None:
    text = "# head\nsource: estimate\n\ncauses:  # all\n  a: {title: A}\n\n# the checks\nchecks:\n  b: {ask: B}\n"
    entry = "  c:\n    title: C\n"
    assert with_entry(text, "causes", entry) == text.replace("{title: A}\n", "{title: A}\n  c:\n    title: C\n")
    assert with_entry(text, "checks", entry) == f"{text}  c:\n    title: C\n"
    assert with_entry(text, "remedies", entry) == f"{text}\nremedies:\n  c:\n    title: C\n"
