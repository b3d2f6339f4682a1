"""What is kept of a review: the same findings warm as cold, whatever was changed between."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diagnose.commands.trees import all_rules
from diagnose.knowledge.checker import Book, check
from diagnose.knowledge.kept import Kept

SMALL = Path(__file__).parent.parent / "small_trees"


# The rules that keep what they came to.
KEEPING = {
    "dangerous-wording",
    "indistinguishable",
    "never-deciding",
    "never-first",
    "unreachable",
    "worse-less-likely",
}
RULES = [rule for rule in all_rules() if rule.name in KEEPING]


def _found(folder: Path, kept: Kept | None = None) -> list[str]:
    book = Book.read(folder, kept)
    return [str(problem) for problem in check(book, RULES)]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("base: ", "base: 0.000"),
        ("almost-certain", "rare"),
        ("always", "0.5"),
        ("applies: {", "applies: {drive: [trolley], "),
        ("title: ", "title: Bypass the photo eye and "),
        ("minutes: ", "minutes: 1"),
    ],
)
def test_warm_is_as_cold_whatever_was_changed(old: str, new: str, tmp_path: Path) -> None:
    folder, file = tmp_path / "trees", tmp_path / "kept"
    shutil.copytree(SMALL, folder)
    kept = Kept(file)
    before = _found(folder, kept)
    kept.save()
    assert before == _found(folder) == _found(folder, Kept(file))
    changed = next(path for path in sorted(folder.rglob("*.yaml")) if old in path.read_text(encoding="utf-8"))
    changed.write_text(changed.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    assert _found(folder, Kept(file)) == _found(folder)


def test_what_is_kept_is_not_worked_out_again(tmp_path: Path) -> None:
    done = []

    def work() -> list[float]:
        done.append(1)
        return [1.5, float("inf")]

    kept = Kept(tmp_path / "kept")
    assert kept.once("it", ({"a": 1}, b"x"), list[float], work) == [1.5, float("inf")]
    kept.save()
    again = Kept(tmp_path / "kept")
    assert again.once("it", ({"a": 1}, b"x"), list[float], work) == [1.5, float("inf")] and len(done) == 1
    for other in (("it", ({"a": 2}, b"x")), ("it", ({"a": 1}, b"y")), ("other", ({"a": 1}, b"x"))):
        again.once(*other, list[float], work)
    assert len(done) == 4


def test_what_was_not_used_is_forgotten_and_a_damaged_file_is_none(tmp_path: Path) -> None:
    file = tmp_path / "deeper" / "kept"
    for name in ("one", "two"):
        kept = Kept(file)
        kept.once(name, (), int, lambda: 1)
        kept.save()
    last = Kept(file)
    assert last.once("two", (), int, lambda: 2) == 1
    assert Kept(file).once("one", (), int, lambda: 3) == 3
    file.write_bytes(b"\x93no")
    assert Kept(file).once("two", (), int, lambda: 4) == 4
