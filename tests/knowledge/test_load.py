"""Reading trees: what is accepted, and every way of being wrong with its line and its mend."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.knowledge import load
from diagnose.knowledge.distributions import Beyond, Mixture, Normal, Shares, Uniform
from diagnose.knowledge.load import compile_trees, load_trees
from diagnose.knowledge.marked_yaml import read_marked
from diagnose.knowledge.model import Trees, applies
from diagnose.knowledge.problems import Problem, Problems, TreeError
from tests.conftest import SMALL

SHARED = """\
energy:
  any: {title: any, powered: no}
access:
  floor: {title: floor, minutes: 0}
people:
  technician: {title: technician}
cautions:
  care: {word: NOTICE, text: Take care.}
"""

GOOD = """\
symptoms:
  stuck:
    title: It is stuck
    caller: It does not move.
    ask-first: [lamp]
    causes: {fuse: probable, jam: even}
causes:
  fuse:
    title: Fuse blown
    base: 20 per 1000 calls
    signs: {lamp: {dark: almost-certain}, volts: {uniform: [0 V, 2 V]}}
    remedies: [new-fuse]
  jam:
    title: Jammed
    base: 0.01
    signs: {volts: {normal: [24 V, 500 mV]}}
    remedies: {free-it: even to always}
checks:
  lamp:
    ask: Is the lamp lit?
    answers: [lit, dark]
    healthy: {lit: always}
    minutes: 1
    energy: any
  volts:
    measure: Volts at the lamp
    unit: V
    plausible: 0 to 60 V
    healthy: {normal: [24, 1]}
    minutes: 2
    energy: any
remedies:
  new-fuse: {title: Fit a new fuse, minutes: 5, energy: any}
  free-it: {title: Free it, minutes: 9, energy: any}
"""


def faults(*texts: str) -> list[Problem]:
    problems = Problems()
    files = {"shared.yaml": SHARED, **{f"{i}.yaml": text for i, text in enumerate(texts)}}
    compile_trees(files, "digest", problems)
    return list(problems)


def compiled(text: str) -> Trees:
    problems = Problems()
    trees = compile_trees({"shared.yaml": SHARED, "0.yaml": text}, "digest", problems)
    assert trees is not None, [str(problem) for problem in problems]
    return trees


def test_a_good_tree_reads_words_units_and_ranges() -> None:
    trees = compiled(GOOD)
    assert trees.causes["fuse"].base == pytest.approx(0.02)
    assert trees.symptoms["stuck"].causes == {"fuse": 0.75, "jam": 0.5}
    assert trees.causes["jam"].remedies["free-it"] == pytest.approx((0.5 + 0.98) / 2)
    assert trees.causes["fuse"].signs["lamp"] == Shares({"lit": pytest.approx(0.07), "dark": 0.93})
    assert trees.causes["jam"].signs["volts"] == Normal(24.0, 0.5)
    assert trees.causes["fuse"].signs["volts"] == Uniform(0.0, 2.0)
    assert trees.places["causes.jam"].line == 13


def test_what_is_left_over_is_shared_as_a_healthy_door_shares_it() -> None:
    text = GOOD.replace("answers: [lit, dark]", "answers: [lit, dim, dark]").replace(
        "healthy: {lit: always}", "healthy: {lit: 0.90, dim: 0.08, dark: 0.02}"
    )
    shares = compiled(text).causes["fuse"].signs["lamp"]
    assert isinstance(shares, Shares)
    assert shares.shares["lit"] / shares.shares["dim"] == pytest.approx(0.90 / 0.08)
    assert sum(shares.shares.values()) == pytest.approx(1)


def test_mixtures_and_open_circuits() -> None:
    spread = "{mixture: [{share: 0.6, normal: [4 V, 1 V]}, {share: 0.4, beyond: range}]}"
    trees = compiled(GOOD.replace("{uniform: [0 V, 2 V]}", spread))
    assert trees.causes["fuse"].signs["volts"] == Mixture(((0.6, Normal(4.0, 1.0)), (0.4, Beyond())))


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("base: 0.01", "base: 2", 15, "out of range"),
        ("base: 0.01", "base: often", 15, "35 per 1000 calls"),
        ("causes: {fuse: probable, jam: even}", "causes: {fuse: probably, jam: even}", 6, "Write one of always"),
        ("causes: {fuse: probable, jam: even}", "causes: {fuze: probable, jam: even}", 6, "Did you mean 'fuse'?"),
        ("ask-first: [lamp]", "ask-frist: [lamp]", 5, "Did you mean 'ask-first'?"),
        ("ask-first: [lamp]", "ask-first: [lamb]", 5, "Did you mean 'lamp'?"),
        ("remedies: [new-fuse]", "remedies: [new-fuze]", 12, "Did you mean 'new-fuse'?"),
        ("{dark: almost-certain}", "{drak: almost-certain}", 11, "'drak' is not an answer"),
        ("{lamp: {dark", "{lump: {dark", 11, "'lump' is no check"),
        ("answers: [lit, dark]", "answers: [lit]", 19, "two answers or more"),
        ("answers: [lit, dark]", "answers: [lit, lit, dark]", 19, "written twice"),
        ("    minutes: 1\n", "    minutes: soon\n", 23, "Write a number"),
        ("    minutes: 1\n", "    minutes: -1\n", 23, "'minutes' is less than 0"),
        ("    minutes: 1\n", "", 19, "'minutes' is missing"),
        ("    minutes: 1\n", "    minutes: 1\n    minutes: 2\n", 24, "written twice here, first on line 23"),
        ("plausible: 0 to 60 V", "plausible: 60 to 0 V", 28, "ends before it starts"),
        ("plausible: 0 to 60 V", "plausible: much", 28, "no range"),
        ("    plausible: 0 to 60 V\n", "", 25, "needs its plausible range"),
        ("{uniform: [0 V, 2 V]}", "{uniform: [2 V, 0 V]}", 11, "must end above"),
        ("{uniform: [0 V, 2 V]}", "{uniform: [0 V, 2 lb]}", 11, "asks for volts"),
        ("{uniform: [0 V, 2 V]}", "{unicorn: [0 V, 2 V]}", 11, "no kind of spread"),
        ("energy: any\n  volts", "energy: some\n  volts", 24, "not among the energy"),
        ("healthy: {lit: always}", "healthy: {lit: always}\n    after: [lamp]", 19, "wait for each other"),
        ("healthy: {lit: always}", "healthy: {lit: always}\n    shows: [light]", 23, "not among the functions"),
        ("ask-first: [lamp]", "ask-first: [lamp]\n    lacks: [light]", 6, "not among the functions"),
        ("ask-first: [lamp]", "ask-first: [lamp]\n    lacks: {light: gone}", 6, "does not say how"),
        ("ask-first: [lamp]", "ask-first: [lamp]\n    never: [fuze]", 6, "Did you mean 'fuse'?"),
        ("healthy: {lit: always}", "healthy: {lit: always}\n    opens: {dim: [volts]}", 23, "'dim' is not an answer"),
        ("healthy: {lit: always}", "healthy: {lit: always}\n    cautions: [car]", 23, "Did you mean 'care'?"),
        (
            "healthy: {normal: [24, 1]}",
            "healthy: {normal: [24, 1]}\n    opens: {low: [lamp]}",
            30,
            "no band of readings",
        ),
        ("symptoms:\n", "symtoms:\n", 1, "Did you mean 'symptoms'?"),
    ],
)
def test_every_fault_has_its_line_and_its_mend(old: str, new: str, line: int, said: str) -> None:
    assert old in GOOD
    found = faults(GOOD.replace(old, new, 1))
    assert any(problem.place.line == line and said in str(problem) for problem in found), [str(p) for p in found]
    assert all(str(problem).startswith(("0.yaml:", "shared.yaml:")) for problem in found)


def test_all_faults_come_at_once() -> None:
    text = GOOD.replace("base: 0.01", "base: 7").replace("probable", "probably").replace("new-fuse]", "newfuse]")
    found = {problem.place.line for problem in faults(text)}
    assert {6, 12, 15} <= found


def test_an_id_written_in_two_files_is_refused_with_both_places() -> None:
    found = faults(GOOD, "causes:\n  jam: {title: Jam, base: 0.1, remedies: [free-it]}\n")
    assert [str(p) for p in found] == ["1.yaml:2: 'jam' is written already at 0.yaml:13. Write it once."]


def test_an_anchor_that_explodes_is_refused_quickly() -> None:
    bomb = "a: &a [x, x, x, x, x, x, x, x, x]\n"
    for here, there in zip("bcdefgh", "abcdefg", strict=True):
        bomb += f"{here}: &{here} [{', '.join([f'*{there}'] * 9)}]\n"
    assert any("grows beyond all measure" in str(p) for p in faults(bomb))
    assert any("grows beyond all measure" in str(p) for p in faults("a: &a\n  b: *a\n"))


@pytest.mark.parametrize(
    "text", ["a: [", "\t- a", "a: b: c", "- 1\n- 2", "just words", "a: 'x", "{}: 1", "? [a]\n: b", "\0"]
)
def test_what_is_no_tree_is_a_problem_never_a_traceback(text: str) -> None:
    found = faults(text)
    assert found and all(problem.place.line >= 1 for problem in found)


def test_yes_no_and_times_stay_words() -> None:
    text = GOOD.replace("answers: [lit, dark]", "answers: [yes, no, 1:30, on]").replace("lit: always", "yes: always")
    trees = compiled(text.replace("{dark: almost-certain}", "{no: almost-certain}"))
    assert trees.checks["lamp"].answers == ("yes", "no", "1:30", "on")


def test_the_compiled_form_is_read_back_the_same_and_a_damaged_one_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path))
    fresh = load_trees(SMALL)
    (kept,) = tmp_path.glob("trees-*")
    assert load_trees(SMALL) == fresh
    kept.write_bytes(b"not a tree")
    assert load_trees(SMALL) == fresh
    kept.write_bytes(kept.read_bytes()[:1000])
    assert load_trees(SMALL) == fresh
    # Something that would be run as soon as it is read.
    kept.write_bytes(b"cos\nsystem\n(S'touch " + bytes(tmp_path / "run") + b"'\ntR.")
    assert load_trees(SMALL) == fresh
    assert not (tmp_path / "run").exists()


def test_what_is_alike_in_the_compiled_form_is_one_object(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path))
    for trees in (load_trees(SMALL), load_trees(SMALL)):
        sources = [cause.source for cause in trees.causes.values()]
        assert len({id(source) for source in sources}) == len(set(sources)) < len(sources)


def test_a_changed_comma_is_another_tree(tmp_path: Path) -> None:
    (tmp_path / "shared.yaml").write_text(SHARED)
    tree = tmp_path / "tree.yaml"
    tree.write_text(GOOD)
    first = load_trees(tmp_path)
    tree.write_text(GOOD.replace("It is stuck", "It is stuck,"))
    second = load_trees(tmp_path)
    assert first.digest != second.digest
    assert second.symptoms["stuck"].title == "It is stuck,"


def test_changed_code_is_another_compilation(tmp_path: Path) -> None:
    package = tmp_path / "diagnose"
    for folder in load.SHAPING:
        shutil.copytree(Path(load.__file__).parent.parent / folder, package / folder)
    digests = {load._code_digest(), load._code_digest(package)}
    assert len(digests) == 1
    for folder in load.SHAPING:
        changed = sorted((package / folder).glob("*.py"))[-1]
        changed.write_text(changed.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
        digests.add(load._code_digest(package))
    assert len(digests) == 1 + len(load.SHAPING)


def test_all_code_that_compiles_is_in_the_caches_key_and_none_of_it_is_loaded_when_warm(tmp_path: Path) -> None:
    look = (
        "import sys; from diagnose import load_trees; load_trees(sys.argv[1]); "
        "print(*(name for name in sys.modules if name.startswith('diagnose.')))"
    )

    def loaded() -> set[str]:
        done = subprocess.run(
            [sys.executable, "-c", look, str(SMALL.parent / "tui" / "trees")],
            env={**os.environ, "DIAGNOSE_CACHE": str(tmp_path)},
            capture_output=True,
            text=True,
            check=True,
        )
        return set(done.stdout.split())

    cold, warm = loaded(), loaded()
    assert "diagnose.knowledge.compiling" in cold - warm
    assert "diagnose.formulas.registry" in cold - warm, "these trees have a computed check"
    outside = {name for name in cold if name.split(".")[1] not in load.SHAPING}
    assert outside == {"diagnose.shipped"}, "what else has a hand in it belongs among SHAPING"


def test_no_folder_and_no_trees_are_said_plainly(tmp_path: Path) -> None:
    with pytest.raises(TreeError, match="no folder of trees"):
        load_trees(tmp_path / "nowhere")
    with pytest.raises(TreeError, match="holds no trees"):
        load_trees(tmp_path)


def test_what_is_not_known_of_a_door_excludes_nothing() -> None:
    conditions = {"drive": ("trolley", "hoist"), "devices": ("photo-eye",)}
    assert applies(conditions, {})
    assert applies(conditions, {"drive": "hoist", "devices": ("timer", "photo-eye")})
    assert not applies(conditions, {"drive": "slide"})
    assert not applies(conditions, {"devices": ("timer",)})


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("base: 0.01", f"base: {'9' * 100_000}", 15, "longer or larger number than can be meant"),
        ("base: 0.01", f"base: {'9' * 100_000} per 1000 calls", 15, "no base rate"),
        ("base: 0.01", "base: 1e999", 15, "longer or larger number"),
        ("base: 0.01", "base: 1.8", 15, "A base rate of 1.8 is out of range"),
        ("base: 0.01", "base: 1.2.3 per 5 calls", 15, "no base rate"),
        ("plausible: 0 to 60 V", f"plausible: 0 to {'9' * 100_000} V", 28, "no amount"),
        ("healthy: {normal: [24, 1]}", "healthy: {normal: [nan, 1]}", 29, "no number in"),
        ("healthy: {lit: always}", f"healthy: {'[' * 60}{']' * 60}", 22, "nested too deeply"),
        ("healthy: {lit: always}", f"healthy: {'[' * 5000}", 22, "nesting depth"),
        ("healthy: {lit: always}", "healthy: {lit: 0.9, dark: 0.9}", 22, "sum to 1.8"),
        ("healthy: {lit: always}", "healthy: {lit: 0.4, dark: 0.3}", 22, "sum to 0.7"),
        ("{dark: almost-certain}", "{dark: 0.9, lit: 0.9}", 11, "sum to 1.8"),
        (
            "energy: any\n  volts",
            "energy: [powered, open]\n  volts",
            24,
            "'energy' must be one word or one text, found a list",
        ),
        ("    minutes: 1\n", "    minutes: [1]\n", 23, "'minutes' must be a number, found a list"),
        ("    minutes: 1\n", "    minutes:\n", 23, "must be a number, found nothing"),
        ("    minutes: 1\n", "    minutes: -1\n", 23, "'minutes' is less than 0"),
        ("symptoms:\n", "exclusive: perhaps\nsymptoms:\n", 1, "Write yes or no"),
    ],
)
def test_what_cannot_be_meant_is_refused_at_its_line_in_the_files_words(
    old: str, new: str, line: int, said: str
) -> None:
    assert old in GOOD
    found = faults(GOOD.replace(old, new, 1))
    assert any(problem.place.line == line and said in str(problem) for problem in found), [str(p)[:200] for p in found]
    assert all(len(str(problem)) < 500 for problem in found)
    assert not any(word in str(problem) for problem in found for word in ("`", "array", "NoneType", "'str'"))


def test_a_long_plain_file_is_no_explosion() -> None:
    """Nothing is repeated in it, however long it is; the same length by aliases is refused."""
    problems = Problems()
    marked = read_marked("a:\n" + "- x\n" * 300_000, "long.yaml", problems)
    assert marked is not None and len(marked.value["a"]) == 300_000 and not len(problems)
    rows = "[" + ", ".join(["x"] * 1000) + "]"
    assert read_marked(f"a: &a {rows}\nb: [{', '.join(['*a'] * 300)}]\n", "bomb.yaml", problems) is None
    assert [problem.place.line for problem in problems] == [1]


def test_a_file_that_is_no_yaml_is_said_first_and_alone() -> None:
    found = faults(GOOD.replace("lamp: {dark", "lump: {dark", 1), "causes:\n  broken: {title: Broken\n")
    assert [problem.place.file for problem in found] == ["1.yaml"] and "not YAML" in found[0].wrong


def test_rates_are_relative_and_never_ask_for_another_to_be_changed() -> None:
    more = "".join(
        f"  more-{i}: {{title: More {i}, base: 0.9, signs: {{lamp: {{dark: 0.5}}}}, remedies: [new-fuse]}}\n"
        for i in range(3)
    )
    trees = compiled(GOOD.replace("causes:\n", f"causes:\n{more}", 1))
    assert trees.all_rates == pytest.approx(sum(cause.base for cause in trees.causes.values()))
    assert trees.all_rates > 2.7
    assert compiled(GOOD).all_rates == 1.0


FUNCTIONS = """
functions:
  fed: {title: It is fed, needs: [lit]}
  lit: {title: It is lit, needs: [fed]}
"""


def test_functions_that_need_each_other_are_refused_at_their_line() -> None:
    (circle,) = faults(GOOD, FUNCTIONS)
    assert (circle.place.file, circle.place.line, circle.rule) == ("1.yaml", 3, "circle")
    assert "These functions need each other: fed → lit → fed." in circle.wrong


def test_a_cause_that_is_impossible_is_none() -> None:
    trees = compiled(GOOD.replace("{fuse: probable, jam: even}", "{fuse: probable, jam: impossible}"))
    assert trees.symptoms["stuck"].causes == {"fuse": 0.75}
    assert trees.symptoms["stuck"].never == ("jam",)


def test_a_cause_may_name_its_complaints_itself() -> None:
    there = GOOD.replace("causes: {fuse: probable, jam: even}", "causes: {fuse: probable}")
    text = there.replace("base: 0.01", "base: 0.01\n    symptoms: {stuck: even}")
    assert compiled(text).symptoms["stuck"].causes == compiled(GOOD).symptoms["stuck"].causes


@pytest.mark.parametrize(
    ("added", "said"),
    [
        ("symptoms: {stuck: even}", "is written at 0.yaml:2 too"),
        ("symptoms: {stuk: even}", "Did you mean 'stuck'?"),
        ("symptoms: {stuck: evenly}", "is no likelihood"),
        ("system: sensing", "'sensing' is not among the systems"),
    ],
)
def test_what_a_cause_says_of_itself_is_looked_over(added: str, said: str) -> None:
    found = faults(GOOD.replace("base: 0.01", f"base: 0.01\n    {added}"))
    assert any(problem.place.line == 16 and said in str(problem) for problem in found), [str(p) for p in found]


def test_a_complaint_that_nothing_causes_is_none() -> None:
    found = faults(GOOD.replace("causes: {fuse: probable, jam: even}", "plain: it is stuck"))
    assert any("Nothing causes 'stuck'" in str(problem) for problem in found), [str(p) for p in found]


def test_the_system_at_the_top_is_that_of_each_entry_that_names_no_other() -> None:
    more = "system: a\nsystems: {a: {title: A}, b: {title: B}}\n"
    trees = compiled(more + GOOD.replace("base: 0.01", "base: 0.01\n    system: [a, b]"))
    assert {cause.id: cause.system for cause in trees.causes.values()} == {"fuse": ("a",), "jam": ("a", "b")}
    assert trees.checks["lamp"].system == ("a",)
    found = faults(more.replace("system: a\n", "system: c\n") + GOOD)
    assert [problem.place.line for problem in found if "'c' is not among the systems" in str(problem)] == [1]


def test_a_refusal_belongs_to_an_answer_of_its_fact() -> None:
    fact = "facts:\n  kind:\n    title: Kind\n    ask: Is?\n    answers: [door, other]\n    not-served: {othr: No.}\n"
    found = faults(GOOD, fact)
    assert [(p.place.line, p.wrong) for p in found] == [(6, "'othr' is not an answer of this fact.")]


@pytest.mark.parametrize(
    ("text", "spot", "said"),
    [
        ("a:\n  title: Bulb: failed\n  b: 1\n", "2:14", "a colon stands in the middle of a text"),
        ("a:\n  x: {title: Bulb: failed, base: 2}\n", "2:18", "a colon stands in the middle of a text"),
        ("a:\n  x: [one: two: three, b]\n", "2:15", "a colon stands in the middle of a text"),
        ("a:\n  how: 'it is\n  b: 1\nc: 2\n", "2:8", "a quote opens here"),
        ("a:\n  how: [x, y\n  b: 1\nc: 2\n", "2:8", "a bracket opens here"),
        ("a:\n  how: {x: y\n  b: 1\nc: 2\n", "2:8", "a brace opens here"),
        ("a:\n\tx: 1\n", "2:1", "a tab stands here"),
        ("a:\n  x: 1\n b: 2\n", "3:2", "not lined up with the keys above"),
        ("a: *foo\n", "1:4", "the name of an anchor"),
        ("a: @foo\n", "1:4", "may not begin with this sign"),
        ('a: "\\q"\n', "1:5", "a backslash in double quotes"),
        ("a: b\njust words\nc: d\n", "2:1", "neither a key nor part of a text"),
        ("a: 'x' y\n", "1:8", "behind a closed quote"),
    ],
)
def test_a_slip_in_the_yaml_is_one_sentence_at_its_column(text: str, spot: str, said: str) -> None:
    (problem,) = faults(GOOD.replace("lamp: {dark", "lump: {dark", 1), text)
    assert str(problem).startswith(f"1.yaml:{spot}: This is not YAML: ") and said in str(problem), str(problem)
    assert not any(word in str(problem) for word in ("scalar", "mapping", "token", "sequence", "block"))


def test_what_is_of_the_wrong_kind_is_said_to_the_column() -> None:
    found = faults(GOOD.replace("energy: any\n  volts", "energy: [powered, open]\n  volts"))
    said = "'energy' must be one word or one text, found a list."
    assert any(str(problem).startswith(f"0.yaml:24:5: {said}") for problem in found), [str(p) for p in found]


def test_a_word_of_pages_is_not_repeated_over_pages() -> None:
    long = "9" * 100_000
    for old, new in (
        ("remedies: [new-fuse]", f"remedies: [{long}x]"),
        ("plausible: 0 to 60 V", f"plausible: {long} V"),
    ):
        found = faults(GOOD.replace(old, new, 1))
        assert found and all(len(str(problem)) < 500 for problem in found)
