"""How long from the shell to the first screen one can use, beside an empty app of the same screen library.

    python benchmarks/startup.py [--runs 11] [--trees FOLDER]

Each run is a fresh process on a terminal of its own (a pty of 80 x 24). The two kinds take turns, so that a machine
that grows slower in between slows both. The clock starts before the process does and stops when its first screen is
painted; for ``diagnose`` that is the start, with all trees loaded from the compiled cache and its list filled. A third
kind goes on to a call: a complaint on a door, and four answers, each when its question stands with its causes beside.
Printed are both medians, their ratio and the bar it must stay under, any module of the heavy ones that slipped in, and
the most memory that a call in progress took beside the empty app, with its bar.
"""

from __future__ import annotations

import argparse
import json
import os
import pty
import select
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

BAR = 1.5
MEMORY_BAR = 2.2
# Memory hardly differs from run to run.
_CALLS = 3
HERE = Path(__file__).resolve().parent
# What costs tens of milliseconds to import, and nobody needs before the interview.
HEAVY = ("numpy", "scipy", "pint", "networkx", "sqlalchemy", "pydantic", "matplotlib", "diagnose.calls.call")

_REPORT = """
import json, os, resource, sys, time
def report():
    spent = time.monotonic() - float(os.environ["STARTED"])
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 if sys.platform == "darwin" else 1 / 1024)
    os.write(int(os.environ["REPORT_TO"]), json.dumps([spent, sorted(sys.modules), most]).encode())
"""
_EMPTY = (
    _REPORT
    + """
from textual.app import App
class Empty(App):
    def on_mount(self):
        self.screen.call_after_refresh(self.painted)
    def painted(self):
        report()
        self.exit()
Empty().run()
"""
)
_DIAGNOSE = (
    _REPORT
    + """
import gc
gc.disable()  # as the program does before it loads its screens
import diagnose.tui.app as tui
class Timed(tui.DiagnoseApp):
    def first_screen_stands(self):
        report()
        self.exit()
tui.DiagnoseApp = Timed
from diagnose.cli import main
sys.exit(main(sys.argv[1:]))
"""
)
_IN_A_CALL = (
    _REPORT
    + """
import diagnose.tui.app as tui
import asyncio
class InACall(tui.DiagnoseApp):
    def first_screen_stands(self):
        super().first_screen_stands()
        self.run_worker(self.go_on())
    async def go_on(self):
        from diagnose.tui.desk import Stated
        facts = {"construction": "sectional", "drive": "trolley", "devices": ("photo-eye", "timer")}
        in_hand = await self.begin(Stated(("will-not-close-on-timer",), facts))
        self.open(in_hand)
        for answered in range(5):
            while self.screen.__class__.__name__ != "Interview" or self.screen.is_waiting:
                await asyncio.sleep(0.02)
            await asyncio.sleep(0.2)
            step = in_hand.call.next_step()
            if answered < 4 and step.kind == "check":
                answers = self.trees.checks[step.id].answers
                in_hand.call.answer(step.id, answers[-1] if answers else "?")
                self.screen.show_call()
        report()
        self.exit()
tui.DiagnoseApp = InACall
from diagnose.cli import main
sys.exit(main(sys.argv[1:]))
"""
)


@dataclass(frozen=True)
class Run:
    """Seconds to the first screen, the modules loaded by then, and the most memory held until then, in bytes."""

    seconds: float
    modules: frozenset[str]
    memory: float


def run_once(code: str, arguments: list[str], environment: dict[str, str]) -> Run:
    """One fresh process on a terminal of its own. Raises ``RuntimeError`` when it ends without having painted."""
    own, theirs = pty.openpty()
    read_end, write_end = os.pipe()
    try:
        _set_size(theirs)
        started = time.monotonic()
        process = subprocess.Popen(
            [sys.executable, "-c", code, *arguments],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            pass_fds=[write_end],
            env={**environment, "STARTED": repr(started), "REPORT_TO": str(write_end)},
        )
        os.close(write_end)
        os.close(theirs)
        said, shown = _watch(process, read_end, own)
    finally:
        os.close(own)
        os.close(read_end)
    if not said:
        raise RuntimeError(f"The first screen never came:\n{shown.decode(errors='replace')[-2000:]}")
    seconds, modules, memory = json.loads(said)
    return Run(seconds, frozenset(modules), memory)


def _watch(process: subprocess.Popen[bytes], report: int, screen: int) -> tuple[bytes, bytes]:
    """What the process reports and shows, until it ends; its screen is read so that it never waits for us."""
    said, shown = b"", b""
    open_ends = {report, screen}
    while open_ends:
        ready, _, _ = select.select(list(open_ends), [], [], 30)
        if not ready:
            process.kill()
            break
        for end in ready:
            try:
                chunk = os.read(end, 65536)
            except OSError:
                chunk = b""
            if not chunk:
                open_ends.discard(end)
            elif end == report:
                said += chunk
            else:
                shown += chunk
    process.wait()
    return said, shown


def _set_size(terminal: int) -> None:
    import fcntl
    import struct
    import termios

    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))


def main() -> int:
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--runs", type=int, default=11, help="runs of each kind, at least 7")
    reader.add_argument("--trees", default="", help="a folder of trees in place of those that ship")
    options = reader.parse_args()
    runs = max(options.runs, 7)
    arguments = ["--trees", options.trees] if options.trees else []
    with tempfile.TemporaryDirectory() as folder:
        environment = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(filter(None, [str(HERE.parent), os.environ.get("PYTHONPATH", "")])),
            "DIAGNOSE_CACHE": str(Path(folder) / "cache"),
            "DIAGNOSE_STORE": str(Path(folder) / "calls.sqlite3"),
            "DIAGNOSE_SETTINGS": str(Path(folder) / "settings.toml"),
            "TERM": "xterm-256color",
        }
        # The first of each compiles trees and bytecode, and is not counted.
        run_once(_EMPTY, [], environment)
        run_once(_DIAGNOSE, arguments, environment)
        empty: list[Run] = []
        full: list[Run] = []
        calls: list[Run] = []
        for turn in range(runs):
            empty.append(run_once(_EMPTY, [], environment))
            full.append(run_once(_DIAGNOSE, arguments, environment))
            if turn < _CALLS:
                calls.append(run_once(_IN_A_CALL, arguments, environment))
    return max(_print(empty, full), _print_memory(empty, calls))


def _print_memory(empty: list[Run], calls: list[Run]) -> int:
    """The memory of a call beside that of the empty app. 1 where the bar is missed."""
    least, most = (statistics.median(run.memory for run in several) for several in (empty, calls))
    ratio = most / least
    print(
        f"memory     empty app {least / 2**20:.0f} MB   call in progress {most / 2**20:.0f} MB   "
        f"modules {len(calls[0].modules)}   runs {len(calls)}"
    )
    print(f"ratio      {ratio:.2f}   bar {MEMORY_BAR:.1f}   {'met' if ratio <= MEMORY_BAR else 'MISSED'}")
    return int(ratio > MEMORY_BAR)


def _print(empty: list[Run], full: list[Run]) -> int:
    """Both figures, their ratio, and the heavy modules. 1 where the bar is missed or a heavy one slipped in."""
    for name, several in (("empty app", empty), ("diagnose", full)):
        times = [1000 * run.seconds for run in several]
        print(
            f"{name:<10} median {statistics.median(times):6.0f} ms   least {min(times):.0f}   most {max(times):.0f}   "
            f"modules {len(several[0].modules)}   runs {len(several)}"
        )
    ratio = statistics.median(run.seconds for run in full) / statistics.median(run.seconds for run in empty)
    print(f"ratio      {ratio:.2f}   bar {BAR:.1f}   {'met' if ratio <= BAR else 'MISSED'}")
    heavy = [name for name in HEAVY if name in full[0].modules]
    print(f"heavy modules before the first screen: {', '.join(heavy) or 'none'}")
    return 0 if ratio <= BAR and not heavy else 1


if __name__ == "__main__":
    sys.exit(main())
