"""``diagnose trees`` from the shell: what is printed, and how it ends."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml

from diagnose.cli import main
from tests.knowledge import overlay

# The rules of the program itself are tried in ``tests/safety``.
WRITING = ["unused", "too-long", "caution-missing", "dangerous-wording"]


def _rules() -> list[str]:
    return [part for name in WRITING for part in ("--rule", name)]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    _write(tmp_path, {})
    return tmp_path


def _write(folder: Path, change: dict[str, object]) -> None:
    changed = overlay.laid_over(overlay.read("good"), change)
    (folder / "lamp.yaml").write_text(yaml.dump(changed, sort_keys=False), encoding="utf-8")


def test_clean_trees_end_with_0(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trees", "check", str(folder), "--strict", *_rules()]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert printed[0].startswith("1 families, 1 symptoms, 3 causes, 5 checks, 2 questions, 3 readings, 0 computed")
    assert printed[-1] == "0 errors, 0 warnings"
    assert any(line.startswith("safety: 2 invariants, ") and line.endswith(" 0 violations") for line in printed)


def test_warnings_end_with_0_unless_strict_and_errors_with_1(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _write(folder, {"parts": {"wire": {"title": "wire", "price": 1, "weight": 1, "volume": 1}}})
    assert main(["trees", "check", str(folder), *_rules()]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first.startswith("lamp.yaml:") and "warning: Nothing uses the part 'wire'." in first
    assert first.endswith("[unused]")
    assert main(["trees", "check", str(folder), "--strict", *_rules()]) == 1
    _write(folder, {"remedies": {"new-bulb": {"cautions": ["electric-shock"]}}})
    assert main(["trees", "check", str(folder), *_rules()]) == 1
    assert "lacks the caution lock-and-tag" in capsys.readouterr().out


def test_what_is_kept_of_the_first_look_changes_nothing_that_is_said(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = []
    for change in ({}, {}, overlay.read("never-first")["fails"], {}):
        _write(folder, change)
        main(["trees", "check", str(folder)])
        said.append(capsys.readouterr().out)
    assert said[0] == said[1] == said[3] != said[2]


def test_unreadable_trees_end_with_2(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "lamp.yaml").write_text("causes: {x: {base: often}}\nchekcs: {}\n", encoding="utf-8")
    assert main(["trees", "check", str(folder)]) == 2
    said = capsys.readouterr().err
    assert "lamp.yaml:1: " in said and "lamp.yaml:2: 'chekcs' is no kind of entry. Did you mean 'checks'?" in said
    assert main(["trees", "check", str(folder / "nowhere")]) == 2
    assert main(["trees", "check", str(folder), "--json"]) == 2
    data = json.loads(capsys.readouterr().out)
    assert {problem["line"] for problem in data["unreadable"]} == {1, 2}


def test_json_says_the_same(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _write(folder, {"remedies": {"new-bulb": {"cautions": ["electric-shock"]}}})
    assert main(["trees", "check", str(folder), "--json", *_rules()]) == 1
    data = json.loads(capsys.readouterr().out)
    (problem,) = data["problems"]
    assert problem["rule"] == "caution-missing" and problem["severity"] == "error" and problem["file"] == "lamp.yaml"
    assert data["counts"]["causes"] == 3
    assert sum(data["numbers"].values()) == data["numbers"]["estimate"] > 40
    assert [one["invariant"] for one in data["safety"]] == ["caution-missing", "dangerous-wording"]


def test_numbers_are_counted_where_they_come_from(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["trees", "check", str(folder), "--json", "--rule", "unused"])
    before = json.loads(capsys.readouterr().out)["numbers"]
    # Its base rate, and the two ends of a spread.
    _write(folder, {"causes": {"fuse-blown": {"source": "A Handbook of Lamps, 3.2, from memory"}}})
    main(["trees", "check", str(folder), "--json", "--rule", "unused"])
    data = json.loads(capsys.readouterr().out)
    moved = before["estimate"] - data["numbers"]["estimate"]
    assert moved == data["numbers"]["published"] == data["from_memory"] == 3


def test_languages_are_counted(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    texts = {"symptoms.dark.caller": "Se apagó la luz.", "checks.glass-looks.caller.answers.black": "está negro"}
    _write(folder, {"languages": {"es": {"title": "español", "texts": texts}}})
    main(["trees", "check", str(folder), "--json", "--rule", "unused"])
    data = json.loads(capsys.readouterr().out)
    assert data["caller_texts"] == 5
    assert data["untranslated"] == {"es": 3}


def test_rules_are_listed_and_have_pages(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trees", "check", "--list"]) == 0
    listed = capsys.readouterr().out.splitlines()
    assert len(listed) > 30 and any(line.startswith("never-asked") for line in listed)
    assert main(["trees", "check", "--list", "--rule", "never-asked"]) == 0
    page = capsys.readouterr().out
    assert page.startswith("never-asked (warning)") and "Passes:" in page and "Fails:" in page
    assert main(["trees", "check", "--rule", "never-aksed"]) == 2
    assert "Did you mean 'never-asked'?" in capsys.readouterr().err


def test_draws_into_files_and_to_the_screen(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trees = ["--trees", str(folder)]
    for name in ("dark", "dock-lamp", "fuse-blown", "socket-volts", "glass-looks"):
        out = folder / f"{name}.svg"
        assert main([*trees, "trees", "draw", name, "--out", str(out)]) == 0
        assert ElementTree.parse(out).getroot().tag.endswith("svg")
    assert main([*trees, "trees", "draw", "--out", str(folder / "all.dot")]) == 0
    assert (folder / "all.dot").read_text(encoding="utf-8").startswith("digraph trees {")
    capsys.readouterr()
    assert main([*trees, "trees", "draw", "dark"]) == 0
    assert capsys.readouterr().out.startswith("The signal lamp is dark\n├── asks first")
    assert main([*trees, "trees", "draw", "dark", "--format", "mermaid"]) == 0
    assert "flowchart LR" in capsys.readouterr().out
    assert main([*trees, "trees", "draw", "socket-volts"]) == 0
    assert "█" in capsys.readouterr().out


def test_what_cannot_be_drawn_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trees = ["--trees", str(folder)]
    assert main([*trees, "trees", "draw", "drak"]) == 2
    assert "Did you mean 'dark'?" in capsys.readouterr().err
    assert main([*trees, "trees", "draw", "socket-volts", "--format", "dot"]) == 2
    assert main([*trees, "trees", "draw", "dark", "--out", str(folder / "no" / "such.svg")]) == 2
    assert "cannot be written" in capsys.readouterr().err
