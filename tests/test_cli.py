"""The shell: commands are found, helped, loaded only when used, and end with a code and a plain sentence."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from diagnose import __version__
from diagnose.cli import COMMANDS, cli, main
from tests.conftest import SMALL

ROOT = Path(__file__).parents[1]
Shell = Callable[..., tuple[int, str, str]]


@pytest.fixture
def shell(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Shell:
    """A command with a store of its own and the small trees; gives its code and what it said."""
    monkeypatch.setenv("DIAGNOSE_LOG", str(tmp_path / "faults.log"))

    def run(*arguments: str, lines: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO(lines))
        code = main(["--trees", str(SMALL), "--store", str(tmp_path / "calls.sqlite3"), *arguments])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return run


def offered() -> list[str]:
    return cli.list_commands(click.Context(cli))


def every_command() -> list[tuple[str, ...]]:
    """Each command, and each below a group, by its path."""
    paths: list[tuple[str, ...]] = []
    for name in offered():
        command = cli.get_command(click.Context(cli), name)
        below = command.commands if isinstance(command, click.Group) else {}
        paths += [(name,), *((name, each) for each in below)]
    return paths


# --- commands and their help -------------------------------------------------------------------------------


def test_what_is_promised_here_is_offered() -> None:
    assert {"ask", "run", "report", "log", "calculate", "settings"} <= set(offered()) <= set(COMMANDS)


@pytest.mark.parametrize("path", every_command(), ids=" ".join)
def test_every_command_has_help_with_an_example(path: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*path, "--help"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Usage: diagnose")
    command = cli.get_command(click.Context(cli), path[0])
    is_group = len(path) == 1 and isinstance(command, click.Group)
    assert is_group or "Example" in said
    if len(path) == 1 and command is not None and not is_group:
        assert [each.name for each in command.params if isinstance(each, click.Option) and not each.help] == []


def test_every_command_is_in_the_documents() -> None:
    """The README, or a page under docs, shows how each command is called."""
    pages = [page for page in [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))] if page.is_file()]
    if not pages:
        pytest.skip("there is no README yet")
    text = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    assert [name for name in offered() if f"diagnose {name}" not in text] == []


def test_help_and_version(shell: Shell) -> None:
    code, out, _ = shell("--help")
    assert code == 0 and all(f"\n  {name} " in out for name in offered())
    assert shell("--version") == (0, f"diagnose {__version__}\n", "")


# --- how a command ends ------------------------------------------------------------------------------------


def test_wrong_use_is_a_sentence_and_two(shell: Shell) -> None:
    for arguments, part in (
        (("asq",), "'asq' is no command. Did you mean 'ask'?"),
        (("log", "--flat"), "No such option"),
        (("--site", "Vale", "ask"), "after the command: diagnose ask"),
        (("report",), "Missing argument"),
        (("report", "nope"), "No call is recorded"),
        (("log", "--since", "yesterday"), "yesterday"),
        (("run",), "Missing argument"),
        (("log", "--export", "x"), "Say which call"),
        (("log", "--import", "/nowhere/x"), "cannot be read"),
        (("calculate", "voltage-dorp"), "voltage-drop"),
        (("settings", "units"), "units=metric"),
    ):
        code, out, err = shell(*arguments)
        assert code == 2, arguments
        assert part in out + err, (arguments, err)
        assert "Traceback" not in err


def test_trees_that_cannot_be_read_are_named(shell: Shell, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "wrong.yaml").write_text("causes: 7\nsymptoms: {a: 1}\n")
    assert main(["--trees", str(tmp_path), "run", "x.yaml"]) == 2
    err = capsys.readouterr().err
    assert "wrong.yaml:1:" in err and "Traceback" not in err
    assert main(["--trees", str(tmp_path / "none"), "ask", "--new"]) == 2
    assert "no folder of trees" in capsys.readouterr().err


def test_a_store_that_cannot_be_read_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "calls.sqlite3").write_bytes(b"something else entirely, long enough to be looked at" * 100)
    assert main(["--trees", str(SMALL), "--store", str(tmp_path / "calls.sqlite3"), "log"]) == 2
    assert "Keep it aside" in capsys.readouterr().err


def test_a_fault_of_ours_is_kept_in_a_file_and_shown_as_a_sentence(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr("diagnose.calls.store.Store.calls", broken)
    code, _, err = shell("log")
    assert code == 2
    assert err.count("\n") == 1 and "should not have happened: ZeroDivisionError" in err
    log = tmp_path / "faults.log"
    assert str(log) in err
    assert "Traceback" in log.read_text(encoding="utf-8") and "inside" in log.read_text(encoding="utf-8")
    log.unlink()
    log.mkdir()
    assert shell("log")[2].rstrip().endswith("What was recorded is safe.")


def test_a_stop_from_the_keyboard_is_no_fault(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("diagnose.calls.store.Store.calls", stopped)
    assert shell("log")[0] == 1


def test_without_a_terminal_the_screens_are_not_opened(shell: Shell) -> None:
    code, out, err = shell()
    assert code == 2
    assert "diagnose ask" in err and out == ""


def test_faults_in_the_settings_are_named_and_the_work_goes_on(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "settings.toml"
    file.write_text('units = "ell"\nby = "Ana"\n')
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(file))
    code, _, err = shell("ask", "eye-lamp-wrong", "--site", "", lines="")
    assert code == 0 and f"{file}:1: 'units' cannot be 'ell'." in err
    assert json.loads(shell("log", "last", "--json")[1].splitlines()[0])["by"] == "Ana"
    assert shell("settings")[0] == 2


# --- commands of one piece ---------------------------------------------------------------------------------


def test_the_log_lists_shows_and_hands_over(shell: Shell, tmp_path: Path) -> None:
    assert shell("log") == (1, "", "No call is on record that fits.\n")
    assert shell("log", "--where") == (0, f"{tmp_path / 'calls.sqlite3'}\n", "")
    shell("ask", "eye-lamp-wrong", "--site", "Vale [/x]", "--door", "Dock 3", lines="\n\n\n\n\ndark\nback\n")
    code, out, _ = shell("log", "--site", "vale", "--open")
    assert code == 0 and "Vale [/x], Dock 3, A photo eye's lamp blinks or is dark" in out
    assert shell("log", "--site", "mill")[0] == 1
    _, out, _ = shell("log", "last")
    assert "“dark”  (undone)" in out and "Entry 2 undone" in out
    data = json.loads(shell("log", "--json")[1])
    assert data["site"] == "Vale [/x]" and data["outcome"] is None
    copy = tmp_path / "call.json"
    assert shell("log", "last", "--export", str(copy))[0] == 0
    assert "was here already" in shell("log", "--import", str(copy))[1]
    other = str(tmp_path / "other.sqlite3")
    assert "is here now, 3 entries" in shell("--store", other, "log", "--import", str(copy))[1]
    copy.write_text("{}")
    assert shell("log", "--import", str(copy))[0] == 2


def test_the_report_goes_to_the_screen_or_to_files(shell: Shell, tmp_path: Path) -> None:
    shell("ask", "eye-lamp-wrong", "--site", "Vale", lines="")
    code, out, _ = shell("report", "last")
    assert code == 0 and out.startswith("Service record, 2")
    page, text, pdf = tmp_path / "r.html", tmp_path / "r.txt", tmp_path / "r.pdf"
    code, printed, err = shell("report", "last", "--html", str(page), "--text", str(text), "--pdf", str(pdf))
    assert (code, printed) == (0, "") and str(page) in err
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert text.read_text(encoding="utf-8") == out
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert "size: letter" in page.read_text(encoding="utf-8")
    shell("report", "last", "--html", str(page), "--paper", "a4")
    assert "size: A4" in page.read_text(encoding="utf-8")
    assert shell("report", "last", "--html", str(tmp_path))[0] == 2
    assert shell("report", "last", "--pdf", str(tmp_path))[0] == 2
    shell("settings", "firm=Alder Door Service", f"logo={tmp_path / 'none.png'}")
    code, out, err = shell("report", "last")
    assert code == 2 and out == "" and "none.png cannot be read" in err and "logo=" in err
    shell("settings", "logo=")
    assert shell("report", "last")[1].startswith("Alder Door Service\n")


def test_a_formula_is_listed_described_and_worked(shell: Shell) -> None:
    _, out, _ = shell("calculate")
    assert "voltage-drop" in out and "\nWire\n" in out
    _, out, _ = shell("calculate", "voltage-drop")
    assert "Takes:" in out and "gauge" in out and "Source:" in out and "Example: diagnose calculate voltage-drop" in out
    # 120 V, 16 A, 150 ft, 10 stranded: 5.95 V, from NEC chapter 9 table 8
    typed = ("volts=120", "amps=16 A", "run=1800 in", "gauge=#10", "strand=stranded", "phase=single")
    code, out, _ = shell("calculate", "voltage-drop", *typed)
    assert code == 0 and "150 ft" in out
    data = json.loads(shell("calculate", "voltage-drop", *typed, "--json")[1])
    assert data["values"]["drop"]["value"] == pytest.approx(5.95, abs=0.05)
    assert data["values"]["drop"]["unit"] == "V"
    for wrong, part in (
        (("volts",), "Write it like"),
        (("volts=120", "volts=1"), "given twice"),
        (("volt=120",), "volts"),
        (("volts=3 ft",), "That is a length; this check asks for"),
        (("volts=120",), "still needs"),
        (("volts=5000", "amps=1", "run=1", "gauge=14"), "must be"),
    ):
        code, _, err = shell("calculate", "voltage-drop", *wrong)
        assert code == 2 and part in err, (wrong, err)


def test_every_formula_can_be_described(shell: Shell) -> None:
    from diagnose.formulas import all_formulas

    for formula in all_formulas():
        code, out, _ = shell("calculate", formula.name)
        assert code == 0 and formula.title in out
        assert all(each.name in out for each in (*formula.inputs, *formula.outputs))


def test_every_input_of_every_formula_can_be_typed_with_its_unit() -> None:
    """What a formula says its unit is can be typed behind a number, and means that number."""
    from diagnose.formulas import all_formulas
    from diagnose.quantities import known_unit
    from diagnose.sitting.calculating import read_input

    for formula in all_formulas():
        for wanted in formula.inputs:
            if wanted.choices:
                assert read_input(wanted, f" {wanted.choices[0]} ") == wanted.choices[0]
                continue
            number = wanted.allowed[0] if wanted.allowed else min(max(2.0, wanted.least), wanted.most)
            meant = wanted.read([number] if wanted.many else number)
            for typed in (f"{number:g}", f"{number:g} {wanted.unit}") if known_unit(wanted.unit) else (f"{number:g}",):
                assert wanted.read(read_input(wanted, typed)) == meant, (formula.name, wanted.name, typed)


def test_settings_are_shown_and_changed(shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "settings.toml"
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(file))
    assert shell("settings", "--where") == (0, f"{file}\n", "")
    code, out, _ = shell("settings", "units=metric", "by=Ana Ruiz")
    assert code == 0 and "metric" in out and "Ana Ruiz" in out
    assert 'units = "metric"' in file.read_text(encoding="utf-8")
    assert shell("settings", "units=ell")[0] == 2
    assert shell("settings", "nuits=us")[2].startswith("'nuits' is no setting. Did you mean 'units'?")


# --- as a program of its own -------------------------------------------------------------------------------


def outside(*arguments: str, **named: object) -> subprocess.CompletedProcess[bytes]:
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "ascii"}
    del environment["OPENBLAS_NUM_THREADS"]
    return subprocess.run([sys.executable, *arguments], capture_output=True, env=environment, check=False, **named)  # type: ignore[call-overload, no-any-return]


def test_as_a_module_with_pipes_of_another_encoding(tmp_path: Path) -> None:
    """What is printed is UTF-8 whatever the console says, and bytes that are no text do no harm."""
    store = str(tmp_path / "calls.sqlite3")
    typed = b"\n\n\n\n\nnote caf\xe9 \xc2\xbd\n"
    done = outside(
        "-m", "diagnose", "--trees", str(SMALL), "--store", store, "ask", "eye-lamp-wrong", "--site", "Ö½", input=typed
    )
    assert (done.returncode, done.stderr) == (0, b"")
    done = outside("-m", "diagnose", "--trees", str(SMALL), "--store", store, "log", "last")
    assert done.returncode == 0
    assert "Note: caf" in done.stdout.decode("utf-8")
    assert "Ö½" in outside("-m", "diagnose", "--trees", str(SMALL), "--store", store, "log").stdout.decode("utf-8")


def test_the_shell_loads_nothing_it_does_not_use() -> None:
    """No command's module for the help, nothing heavy for a small command, the screens' library for none at all.

    So numpy comes later, and takes the one thread it is given.
    """
    heavy = ("numpy", "scipy", "pint", "networkx", "sqlalchemy", "markdown_it", "yaml", "diagnose.calls")
    code = (
        "import os, sys, importlib, diagnose.cli\n"
        "diagnose.cli.main(['--help'])\n"
        "print([name for name in sys.modules if name.startswith('diagnose.') and name != 'diagnose.cli'])\n"
        "for name in ('report', 'calculate', 'settings'): importlib.import_module(f'diagnose.commands.{name}')\n"
        f"print([name for name in {heavy!r} if name in sys.modules])\n"
        f"for name in {sorted(set(COMMANDS) - {'serve'})!r}: importlib.import_module(f'diagnose.commands.{{name}}')\n"
        "print([name for name in sys.modules if name == 'textual'])\n"
        "print(os.environ['OPENBLAS_NUM_THREADS'])\n"
    )
    done = outside("-c", code)
    assert done.stdout.decode().splitlines()[-4:] == ["[]", "[]", "[]", "1"], done.stderr.decode()


def test_a_reader_that_has_seen_enough_is_no_fault(tmp_path: Path) -> None:
    code = "import sys; from diagnose.cli import main; sys.exit(main(['calculate']))"
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    child = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment
    )
    assert child.stdout is not None and child.stderr is not None
    child.stdout.close()
    errors = child.stderr.read()
    child.stderr.close()
    assert (child.wait(), errors) == (0, b"")
