"""Scenario files: what they hide, every way of being wrong at its line, and the ones that ship."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problem, TreeError
from diagnose.practice.library import check_library, load_library
from diagnose.practice.scenario import (
    Hidden,
    VeilError,
    belief_in,
    family_of,
    first_screen,
    misleads,
    unveil,
    veil,
    veiled_lines,
)

from .conftest import SCENARIOS

GOOD = (SCENARIOS / "quiet-lane.yaml").read_text(encoding="utf-8")


def problems(trees: Trees, folder: Path, text: str, name: str = "lane.yaml", shared: str = "") -> list[Problem]:
    (folder / name).write_text(text, encoding="utf-8")
    if shared:
        (folder / "shared").mkdir(exist_ok=True)
        (folder / "shared" / "mishaps.yaml").write_text(shared, encoding="utf-8")
    return list(check_library(trees, folder)[1])


# --- the veil ------------------------------------------------------------------------------------------------------

words = st.text(min_size=1, max_size=40)


@given(words, st.builds(Hidden, causes=st.tuples(words), findings=st.dictionaries(words, words), teaches=words))
def test_what_is_veiled_comes_back_and_only_under_its_own_name(identity: str, hidden: Hidden) -> None:
    text = veil(identity, hidden)
    assert unveil(identity, text) == hidden
    assert unveil(identity, f" {text[:5]}\n  {text[5:]}\n") == hidden
    with pytest.raises(VeilError):
        unveil(identity + "x", text)


@given(words, st.integers(0, 10_000), st.integers(1, 255))
def test_a_damaged_veil_is_noticed(identity: str, place: int, turn: int) -> None:
    import base64

    whole = bytearray(base64.b64decode(veil(identity, Hidden(causes=("eye-dead",)))))
    whole[place % len(whole)] ^= turn
    with pytest.raises(VeilError):
        unveil(identity, base64.b64encode(bytes(whole)).decode())


@pytest.mark.parametrize("text", ["", "?", "eye-dead", "AAAA", "ÄÄÄÄ"])
def test_no_veil_at_all_is_said_plainly(text: str) -> None:
    with pytest.raises(VeilError, match=r"veiled|damaged"):
        unveil("lane", text)


def test_the_same_cause_does_not_look_alike_in_two_files() -> None:
    hidden = Hidden(causes=("eye-wiring-open",))
    first, second = veil("one", hidden), veil("two", hidden)
    assert not any(first[at : at + 6] in second for at in range(len(first) - 6))
    assert "eye" not in "".join(veiled_lines("one", hidden))


# --- what is wrong, and where --------------------------------------------------------------------------------------


def test_a_good_draft_is_only_asked_to_be_veiled(small_trees: Trees, tmp_path: Path) -> None:
    found = [p for p in problems(small_trees, tmp_path, GOOD) if p.rule != "level"]
    assert [(p.severity, p.rule) for p in found] == [("warning", "open-secret")]


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("symptoms: [eye-lamp-wrong]", "symptoms: [eye-lamp-wrng]", 7, "Did you mean 'eye-lamp-wrong'?"),
        ("symptoms: [eye-lamp-wrong]", "symptoms: []", 7, "Nothing is complained of."),
        ("drive: trolley", "drive: troley", 9, "Did you mean 'trolley'?"),
        ("drive: trolley", "driv: trolley", 9, "Did you mean 'drive'?"),
        ("drive: trolley", "drive: [trolley, hoist]", 9, "Only one answer"),
        ("when-it-happens: every time", "when-it-happen: every time", 15, "Did you mean 'when-it-happens'?"),
        ("when-it-happens: every time", "when-it-happens: each time", 15, "'each time' is not among the answers"),
        ("causes: [eye-wiring-open]", "causes: [eye-wiring-opened]", 16, "Did you mean 'eye-wiring-open'?"),
        ("causes: [eye-wiring-open]", "causes: []", 16, "No cause is named."),
        ("1.2 V", "1.2 ft", 17, "That is a length"),
        ("level: easy", "level: simple", 6, "Write one of: easy, medium, hard."),
        ("level: easy", "lvl: easy", 6, "Did you mean 'level'?"),
        ("title: A small light\n", "", 1, "'title' is missing."),
        ("story: ", "- story: ", 5, "This is not YAML"),
        ("  fire-rated: no\n", "", 8, "'fire-rated' is not said of the door."),
        ("teaches: Measure before a part is bought.\n", "", 16, "It teaches nothing."),
        (
            "story: Somebody rings",
            "story: A corroded splice, open wiring of the photo eye. Somebody rings",
            5,
            "says what",
        ),
        ("devices: [photo-eye]", "devices: [timer]", 16, "cannot be in such a door"),
        (
            "every time}",
            "every time, splice-looks: green or loose, eye-volts-far-end: 0.4 V, impact: no sign}",
            16,
            "% likely",
        ),
    ],
)
def test_each_fault_is_named_at_its_line(
    small_trees: Trees, tmp_path: Path, old: str, new: str, line: int, said: str
) -> None:
    assert old in GOOD
    found = problems(small_trees, tmp_path, GOOD.replace(old, new))
    fitting = [problem for problem in found if said in str(problem)]
    assert fitting, [str(problem) for problem in found]
    assert (fitting[0].place.file, fitting[0].place.line) == ("lane.yaml", line)
    assert fitting[0].severity == "error"


def test_a_secret_said_twice_and_a_renamed_file_are_errors(small_trees: Trees, tmp_path: Path) -> None:
    hidden = "\n".join(veiled_lines("other", Hidden(causes=("eye-dead",))))
    twice = problems(small_trees, tmp_path, f"{GOOD}{hidden}\n")
    assert any("stands here twice" in str(problem) for problem in twice)
    opened = GOOD[: GOOD.index("causes:")]
    renamed = problems(small_trees, tmp_path, f"{opened}{hidden}\n")
    assert any("was renamed" in str(problem) for problem in renamed)


def test_a_scenario_that_cannot_be_read_is_refused_with_all_its_faults(small_trees: Trees, tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(GOOD.replace("drive: trolley", "drive: sled"), encoding="utf-8")
    (tmp_path / "b.yaml").write_text(GOOD.replace("eye-lamp-wrong", "eye-lamp"), encoding="utf-8")
    with pytest.raises(TreeError) as error:
        load_library(small_trees, tmp_path)
    assert {problem.place.file for problem in error.value.problems} == {"a.yaml", "b.yaml"}


@pytest.mark.parametrize(
    ("shared", "said"),
    [
        ("mishaps: {x: {title: t, exposure: dead, told: t}}", "Write one of: live"),
        ("mishaps: {x: {title: t, exposure: live, told: t, cautions: [shock]}}", "'shock' is not among the cautions"),
        ("mishaps: {x: {title: t, exposure: live, told: t, breaks: [eye-ded]}}", "Did you mean 'eye-dead'?"),
        ("prepares: [bay-cleer]", "Did you mean 'bay-clear'?"),
        ("mishap: {}", "Did you mean 'mishaps'?"),
        ("kinds: {dock: {facts: {drive: sled}}}", "'sled' is no answer to 'drive'."),
        ("kinds: {dock: {has: {device: photo-eye}}}", "Did you mean 'devices'?"),
    ],
)
def test_what_scenarios_share_is_checked_like_the_rest(
    small_trees: Trees, tmp_path: Path, shared: str, said: str
) -> None:
    found = problems(small_trees, tmp_path, GOOD, shared=shared)
    assert any(said in str(p) and str(p.place).startswith("shared/mishaps.yaml:1") for p in found), list(
        map(str, found)
    )


def test_a_folder_without_scenarios_says_so(small_trees: Trees, tmp_path: Path) -> None:
    with pytest.raises(TreeError, match="holds no scenarios"):
        load_library(small_trees, tmp_path)
    with pytest.raises(TreeError, match="no folder of scenarios"):
        load_library(small_trees, tmp_path / "none")


# --- the ones that ship --------------------------------------------------------------------------------------------


def test_the_shipped_scenarios_are_sound_and_as_many_and_as_varied_as_promised(shipped_trees: Trees) -> None:
    library, found = check_library(shipped_trees)
    assert not found.errors, [str(problem) for problem in found.errors]
    scenarios = list(library.scenarios.values())
    assert len(scenarios) >= 30
    assert len({family_of(shipped_trees, each) for each in scenarios}) >= 20
    assert sum(len(each.causes) == 2 for each in scenarios) >= 5
    assert sum(bool(misleads(shipped_trees, each)) for each in scenarios) >= 4
    for level in ("easy", "medium", "hard"):
        assert sum(each.level == level for each in scenarios) >= 5
    for each in scenarios:
        assert belief_in(first_screen(shipped_trees, each), each.causes) < 0.95


def test_no_shipped_scenario_can_be_read_at_a_glance(shipped_trees: Trees) -> None:
    library = load_library(shipped_trees)
    from diagnose.shipped import shipped_folder

    for scenario in library.scenarios.values():
        text = (shipped_folder("scenarios") / f"{scenario.id}.yaml").read_text(encoding="utf-8").casefold()
        assert scenario.teaches
        for cause in scenario.causes:
            assert cause not in text
            assert cause not in scenario.id
            assert shipped_trees.causes[cause].title.casefold() not in " ".join(text.split())
        assert scenario.teaches[:25].casefold() not in text


def test_every_mishap_can_happen(shipped_trees: Trees) -> None:
    """Each entry is the first that fits for some step of the trees, in some state."""
    library = load_library(shipped_trees)
    steps = [*shipped_trees.checks.values(), *shipped_trees.remedies.values(), *shipped_trees.proofs.values()]
    met: set[str] = set()
    for step in steps:
        for energy in shipped_trees.energy:
            for each in library.consequences.of(shipped_trees, step, energy, ("anyone", "technician"), {}):
                assert each.told
                if each.mishap is not None:
                    met.add(each.mishap.id)
    assert met == {mishap.id for mishap in library.consequences.mishaps}
