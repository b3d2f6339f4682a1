"""A file of calls from another system: every fault at its line, every sound row screened."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose.cli import main
from diagnose.knowledge.model import Trees, Van
from diagnose.knowledge.problems import Problems
from diagnose.screening.batch import Row, read_rows, screen_row
from tests.screening.conftest import TREES


def read(text: str, trees: Trees) -> tuple[list[Row], list[str]]:
    problems = Problems()
    rows = read_rows(text, "calls.csv", trees, problems)
    return rows, [str(problem) for problem in problems]


def test_a_row_holds_all_that_was_written(dock: Trees) -> None:
    text = (
        "call,site,door,symptom,facts,answers,dangers\n"
        'A1,"Mill, north",3,will-not-move,"height=high; devices=eye,timer",lamp=dark; springs-look=whole,caught=no\n'
    )
    (row,), faults = read(text, dock)
    assert faults == []
    assert (row.line, row["call"], row["site"], row.symptoms) == (2, "A1", "Mill, north", ("will-not-move",))
    assert row.facts == {"height": "high", "devices": ("eye", "timer")}
    assert row.answers == {"lamp": "dark", "springs-look": "whole"}
    assert row.dangers == {"caught": "no"}


def test_columns_may_be_named_by_what_they_hold(dock: Trees) -> None:
    (row,), faults = read("symptom;height;lamp;caught\nwill-not-move;low;dark;Yes\n", dock)
    assert faults == []
    assert (row.facts, row.answers, row.dangers) == ({"height": "low"}, {"lamp": "dark"}, {"caught": "yes"})


def test_every_fault_is_named_with_its_line_and_the_others_are_read(dock: Trees) -> None:
    text = (
        "symptom,text,facts,answers,caught\n"
        "will-not-mve,,,,\n"
        "will-not-move,,height=hihg,lamp=purple,perhaps\n"
        ",,,,\n"
        ',"two\nlines, nothing happens",,,\n'
        "will-not-move,,height,nonsense=1,,,too many\n"
        ",,height=low,,\n"
        "will-not-move,,,lamp=dark,no\n"
    )
    rows, faults = read(text, dock)
    assert [row.line for row in rows] == [5, 9]
    assert [fault.split(": ")[0] for fault in faults] == ["calls.csv:2"] + ["calls.csv:3"] * 3 + [
        "calls.csv:7",
        "calls.csv:8",
    ]
    assert "Did you mean 'will-not-move'?" in faults[0]
    assert "Did you mean 'high'?" in "".join(faults[1:4])
    assert "has 7 cells, and the header 5" in faults[4]
    assert "says nothing of what is wrong" in faults[5]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("symptom,sympton\nx,y\n", "Did you mean 'symptom'?"),
        ("site,door\nMill,3\n", "Add 'symptom' or 'text'"),
        ("symptom,symptom\nx,y\n", "stands twice"),
        ('symptom,text\nwill-not-move,"open\n', "no CSV"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(dock: Trees, text: str, said: str) -> None:
    rows, faults = read(text, dock)
    assert rows == [] and any(said in fault for fault in faults), faults


def test_words_find_the_complaint_and_the_danger_in_them(dock: Trees, van: Van) -> None:
    (plain, dangerous), faults = read(
        'text\n"I press it, but nothing happens"\n"the thing sinks all by itself"\n', dock
    )
    assert faults == []
    assert plain.symptoms == ("will-not-move",)
    found = screen_row(dock, plain, van)
    assert found["matched"]["sure"] is True and found["danger"] == []
    # Nothing it says is like a complaint, and the danger in it is one.
    assert dangerous.symptoms == ("hangs-crooked",)
    found = screen_row(dock, dangerous, van)
    assert [each["id"] for each in found["danger"]] == ["falling"] and found["urgency"]["level"] == "today"


def test_what_follows_is_what_a_phone_call_gives(dock: Trees, van: Van) -> None:
    (row,), _ = read("symptom,height,lamp,springs-look,standing\nwill-not-move,high,lit,gap,usable\n", dock)
    found = screen_row(dock, row, van)
    assert found["matched"] is None
    assert [each["id"] for each in found["crew"]["send"]] == ["door technician", "second person"]
    assert [each["id"] for each in found["work_from"]] == ["lift"]
    assert found["likely"][0]["cause"] == "spring-broken"
    assert found["danger_not_asked"] == ["caught", "fire-held"]
    json.dumps(found)


def test_the_command_prints_an_object_a_line_and_the_faults_aside(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "calls.csv"
    file.write_text("call,symptom,lamp\nA,will-not-move,dark\nB,will-not-mve,dark\nC,will-not-move,lit\n", "utf-8")
    code = main(["--trees", str(TREES), "screen", str(file), "--json"])
    out, err = capsys.readouterr()
    assert code == 1
    assert [json.loads(line)["call"] for line in out.splitlines()] == ["A", "C"]
    assert err.count("\n") == 1 and f"{file}:3: " in err
    assert main(["--trees", str(TREES), "screen", str(file)]) == 1
    assert "NEXT FREE VISIT" in capsys.readouterr().out


def test_the_command_says_what_it_cannot_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--trees", str(TREES), "screen", str(tmp_path / "none.csv")]) == 2
    assert "cannot be read" in capsys.readouterr().err
    empty = tmp_path / "empty.csv"
    empty.write_text("", "utf-8")
    assert main(["--trees", str(TREES), "screen", str(empty)]) == 2
    assert "empty" in capsys.readouterr().err
    assert main(["--trees", str(TREES), "screen", str(empty), "--van", "smal van"]) == 2
    assert "Did you mean 'small van'?" in capsys.readouterr().err


def test_json_holds_the_same_as_csv(dock: Trees) -> None:
    text = """[
  {"call": "A1", "site": "Mill, north", "symptom": ["will-not-move"], "facts": {"height": "high", "devices": ["eye",
   "timer"]}, "answers": {"lamp": "dark"}, "dangers": {"caught": "no"}},
  {"symptom": ["will-not-mve"]},
  {"symptom": "will-not-move"},
  {"text": "nothing happens", "facts": {"hieght": "high"}, "answers": {"lamp": "purple"}},
  {"sympton": ["will-not-move"]}, 7,
  {"symptom": ["will-not-move"]}
]"""
    rows, faults = read(text, dock)
    assert [row.line for row in rows] == [2, 8]
    assert (rows[0]["call"], rows[0].symptoms, rows[0].facts["devices"]) == ("A1", ("will-not-move",), ("eye", "timer"))
    assert (rows[0].answers, rows[0].dangers) == ({"lamp": "dark"}, {"caught": "no"})
    assert [fault.split(": ")[0].split(":")[1] for fault in faults] == ["4", "5", "6", "6", "7", "7"]
    for broken in ("[", '{"a": 1}', "[1,\n}", "[" * 100_000):
        rows, faults = read(broken, dock)
        assert rows == [] and "no list of calls in JSON" in faults[0]


def test_a_list_of_requests_fits_its_schema_and_its_sheets_theirs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import jsonschema

    from diagnose.screening.forms import schema

    requests = [{"call": "A1", "symptom": ["will-not-move"], "dangers": {"caught": "no"}}]
    jsonschema.Draft202012Validator(json.loads(schema("request"))).validate(requests)
    file = tmp_path / "requests.json"
    file.write_text(json.dumps(requests), encoding="utf-8")
    assert main(["--trees", str(TREES), "screen", str(file), "--json"]) == 0
    jsonschema.Draft202012Validator(json.loads(schema("sheet"))).validate(json.loads(capsys.readouterr().out))
