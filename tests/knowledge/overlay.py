"""Small sets of trees made from ``bad_trees/good.yaml`` and a change to it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from diagnose.knowledge.checker import Book

FOLDER = Path(__file__).parent / "bad_trees"


def read(name: str) -> dict[str, Any]:
    """A file of ``bad_trees``, every scalar but numbers left as text as the trees have it."""
    text = (FOLDER / f"{name}.yaml").read_text(encoding="utf-8")
    loaded: dict[str, Any] = yaml.load(text, Loader=Words)
    return loaded


def book(folder: Path, change: dict[str, Any]) -> Book:
    """The good trees with ``change`` laid over them, written into ``folder`` and read."""
    changed = laid_over(read("good"), change)
    (folder / "trees.yaml").write_text(yaml.dump(changed, sort_keys=False, allow_unicode=True), encoding="utf-8")
    return Book.read(folder)


def laid_over(below: Any, above: Any) -> Any:
    """``above`` where it says something, ``below`` elsewhere; an empty value takes the key out."""
    if not isinstance(below, dict) or not isinstance(above, dict):
        return above
    merged = {key: laid_over(below.get(key), value) for key, value in above.items()}
    both = {key: merged.get(key, value) for key, value in below.items()} | merged
    return {key: value for key, value in both.items() if not (key in above and above[key] is None)}


class Words(yaml.SafeLoader):
    """Reads ``yes`` and ``no`` as words."""


Words.yaml_implicit_resolvers = {
    letter: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:bool"]
    for letter, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
