"""What a person reads keeps to the table of words in DEVELOPERS.md: one word for a thing."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import pytest
import yaml

from diagnose.knowledge.model import Trees
from diagnose.knowledge.phrases import found_in
from diagnose.knowledge.texts import texts

ROOT = Path(__file__).parent.parent
# What authors of trees read speaks of keys such as `remedies`; `evaluate` has figures of the program itself.
_FOR_AUTHORS = re.compile(
    r"diagnose/(knowledge|review|safety)/|commands/(trees|tree_|evaluate)|practice/(playing|evaluate|from_life)"
    r"|screening/batch|learning/unlisted"
)
# Columns of tables, seeds, keys of texts, tags of events and what is to be typed: names, which nobody reads as words.
_NAMES = re.compile(
    r"CREATE |^remedy on this door$|^remedy \{\}$|^symptoms?[.:]|^no symptom$|^symptoms stated$|^take back$"
    r"|^Write .*(remedy: |symptoms: )|has 'remedy' and|^Take 'symptoms'|^[a-z_]+$|^utilisation$"
)
# Texts of kinds that `texts` leaves out, since they are never asked or said by themselves.
_TITLED = (
    "parts",
    "instruments",
    "people",
    "access",
    "families",
    "systems",
    "functions",
    "hazards",
    "urgencies",
    "vans",
)


def words(guide: str) -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    """Of the two tables of words: by the wording that is not to be used, what excuses it. The second is Spanish."""
    found: list[dict[str, tuple[str, ...]]] = []
    lines = guide.partition("## Words")[2].partition("\n## ")[0].splitlines()
    for line, following in zip(lines, [*lines[1:], ""], strict=True):
        if following.startswith("|-"):
            found.append({})
        elif line.startswith("| "):
            cell = re.split(r"(?<!\\)\|", line)[-2].replace("\\|", "|").strip()
            wanted, _, excused = cell.partition(" but ")
            excuses = tuple(filter(None, excused.split(", ")))
            found[-1] |= dict.fromkeys(filter(None, wanted.split(", ")), excuses)
    english, spanish = found
    return english, spanish


def misworded(read: Iterable[tuple[str, str]], table: Mapping[str, tuple[str, ...]]) -> list[str]:
    """A line for each text, with its place, that has a wording of ``table`` without its excuse."""
    return [
        f"{place}: “{found}” in “{text}”"
        for place, text in read
        for each, excuses in table.items()
        if (found := found_in(text, [each], excuses))
    ]


def of_code(source: str) -> Iterator[tuple[int, str]]:
    """Strings of a module that may be shown, each with its line: no docstrings, no names of ``__all__``."""
    module = ast.parse(source)
    silent: set[ast.AST] = {
        part for node in ast.walk(module) if isinstance(node, ast.JoinedStr) for part in node.values
    }
    silent |= {node.value for node in ast.walk(module) if isinstance(node, ast.Expr)}
    assigned = (node for node in ast.walk(module) if isinstance(node, ast.Assign))
    silent |= {each for node in assigned if ast.unparse(node.targets[0]) == "__all__" for each in ast.walk(node.value)}
    for node in ast.walk(module):
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
            yield node.lineno, text
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in silent:
            yield node.lineno, node.value


def listed(source: str) -> set[str]:
    """Strings that a ``Literal`` of a module lists: names of kinds."""
    kinds = [
        node.slice
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "Literal"
    ]
    within = [each for kind in kinds for each in ast.walk(kind)]
    return {each.value for each in within if isinstance(each, ast.Constant) and isinstance(each.value, str)}


def shown_by_code() -> Iterator[tuple[str, str]]:
    sources = {path: path.read_text() for path in sorted((ROOT / "diagnose").rglob("*.py"))}
    kinds = set().union(*map(listed, sources.values()))
    for path, source in sources.items():
        place = path.relative_to(ROOT).as_posix()
        if not _FOR_AUTHORS.search(place):
            for line, text in of_code(source):
                if text not in kinds and not _NAMES.search(text):
                    yield f"{place}:{line}", text


def of_trees(trees: Trees) -> Iterator[tuple[str, str]]:
    for written in texts(trees):
        if written.reader == "technician":
            yield written.key, written.text
    for kind in _TITLED:
        for name, entry in getattr(trees, kind).items():
            for field in ("title", "why"):
                yield f"{kind}.{name}.{field}", getattr(entry, field, "")
    for identity, phrase in trees.phrases.items():
        yield f"phrases.{identity}.mend", phrase.mend
    for identity, assurance in trees.assurances.items():
        yield f"assurances.{identity}.title", f"{assurance.title} {assurance.why}"


def in_yaml(found: object) -> Iterator[str]:
    if isinstance(found, str) and " " in found:
        yield found
    elif isinstance(found, dict):
        for each in found.values():
            yield from in_yaml(each)
    elif isinstance(found, list):
        for each in found:
            yield from in_yaml(each)


def of_scenarios() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "scenarios").rglob("*.yaml")):
        for text in in_yaml(yaml.safe_load(path.read_text())):
            yield path.name, text


def of_guides() -> Iterator[tuple[str, str]]:
    # What is shown as typed, and code between fences, has names in it.
    guide = re.sub(
        r"```.*?```|`[^`]*`|https?:\S+|^    .*?$", "…", (ROOT / "README.md").read_text(), flags=re.DOTALL | re.M
    )
    for number, paragraph in enumerate(guide.split("\n\n"), 1):
        yield f"README.md, paragraph {number}", paragraph


@pytest.fixture(scope="module")
def table() -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    return words((ROOT / "DEVELOPERS.md").read_text())


def test_trees_keep_to_the_words(
    shipped_trees: Trees, table: tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]
) -> None:
    assert misworded(of_trees(shipped_trees), table[0]) == []
    spanish = [(f"es: {key}", text) for key, text in shipped_trees.languages["es"].texts.items()]
    assert misworded(spanish, table[1]) == []


def test_screens_scenarios_and_guide_keep_to_the_words(
    table: tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]],
) -> None:
    assert misworded(shown_by_code(), table[0]) == []
    assert misworded(of_scenarios(), table[0]) == []
    assert misworded(of_guides(), table[0]) == []


def test_what_is_not_in_the_words_is_found() -> None:
    guide = """## Words
| word | is | not |
|---|---|---|
| repair | what is done | remed*, renew but renew the card |
| door | it | |
| back | it | put in\\|into use |

| to a caller | Spanish | not |
|---|---|---|
| floor | piso | suelo |

## Habits
| no | word | here |
"""
    english, spanish = words(guide)
    assert english == {"remed*": ("renew the card",), "renew": ("renew the card",), "put in|into use": ()}
    assert spanish == {"suelo": ()}
    module = '''"""A remedy."""
from typing import Literal
Kind = Literal["remedy done"]
def told(name: str) -> str:
    """A remedy of that name."""
    return f"The remedy {name} " + "is put into use"
'''
    assert listed(module) == {"remedy done"}
    shown = [(str(line), text) for line, text in of_code(module) if text not in listed(module)]
    assert misworded(shown, english) == [
        "6: “remedy” in “The remedy {} ”",
        "6: “put into use” in “is put into use”",
    ]
    assert misworded([("a", "Renew the card."), ("b", "Renew it.")], english) == ["b: “renew” in “Renew it.”"]
