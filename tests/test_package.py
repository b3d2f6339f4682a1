"""What is installed is what is used: every dependency is imported somewhere, and every import is a dependency."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def names(requirements: list[str]) -> set[str]:
    return {re.split(r"[\[<>=!~ ]", each)[0].lower().replace("_", "-") for each in requirements}


def imported() -> set[str]:
    """The packages that the program imports, early or late."""
    found: set[str] = set()
    for file in (ROOT / "diagnose").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {each.name.partition(".")[0] for each in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
                found.add(node.module.partition(".")[0])
    return found - set(sys.stdlib_module_names) - {"diagnose"}


def test_what_is_installed_is_imported_and_what_is_imported_is_installed() -> None:
    owners = packages_distributions()
    used = {owner.lower().replace("_", "-") for module in imported() for owner in owners.get(module, [module])}
    needed = names(PROJECT["dependencies"])
    optional = {name for each in PROJECT["optional-dependencies"].values() for name in names(each)}
    assert needed - used == set(), "installed, and imported nowhere"
    assert used - needed - optional == set(), "imported, and not among the dependencies"


def test_the_licence_is_in_the_package() -> None:
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert text.startswith("MIT License") and PROJECT["license"] == "MIT"
    assert "LICENSE" in PROJECT["license-files"]


def test_the_readme_says_how_to_complete_words_and_to_set_up_in_one_line() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for line in ("pipx install .", "uv tool install .", "_DIAGNOSE_COMPLETE=bash_source diagnose"):
        assert line in readme
