"""What may import what, and what a start may load."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parents[1]
HEAVY = ("numpy", "scipy", "pint", "networkx", "sqlalchemy", "rapidfuzz", "snowballstemmer")


def run(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_imports_run_one_way() -> None:
    """The layers stand in pyproject.toml; import-linter follows every import."""
    program = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Not even inside a function, or for types alone: each file can be read after those it names."""
    graph: nx.DiGraph[str] = nx.DiGraph()
    modules = {".".join(p.relative_to(ROOT).with_suffix("").parts): p for p in (ROOT / "diagnose").rglob("*.py")}
    for module, path in modules.items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                named = [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
                graph.add_edges_from((module, other) for other in named if other in modules and other != module)
    circles = [sorted(circle) for circle in nx.strongly_connected_components(graph) if len(circle) > 1]
    assert circles == []


@pytest.mark.parametrize(
    "module",
    ["diagnose", "diagnose.cli", "diagnose.calls.call", "diagnose.calls.report", "diagnose.practice.evaluate"],
)
def test_what_needs_no_screen_never_loads_the_screen_library(module: str) -> None:
    assert run(f"import sys, {module}; print('textual' in sys.modules)").strip() == "False"


def test_reading_trees_from_the_compiled_form_loads_nothing_heavy(tmp_path: Path) -> None:
    code = f"""
import os, sys
os.environ['DIAGNOSE_CACHE'] = {str(tmp_path)!r}
from diagnose import load_trees
load_trees()
"""
    run(code)
    loaded = run(code + f"print([name for name in {HEAVY} if name in sys.modules])")
    assert loaded.strip() == "[]"


def test_the_surface_is_imported_when_it_is_first_asked_for() -> None:
    code = "import sys, diagnose; print([m for m in sys.modules if m.startswith('diagnose.')])"
    assert run(code).strip() == "[]"
    with pytest.raises(AttributeError, match="no attribute 'Cal'"):
        import diagnose

        _ = diagnose.Cal
