"""A face in a real terminal that is killed between two acts, and what the next start shows."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
import signal
import subprocess
import sys
import termios
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]
# How long a face may say nothing before it is taken to wait, and how often that is asked; no test hangs on it.
_QUIET, _LONGEST = 0.4, 600
_CODES = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07]*\x07|\x1b[@-_]|\x1b\(B")


@dataclass
class Face:
    """``diagnose`` with ``arguments`` on a terminal of 120 × 40."""

    arguments: tuple[str, ...]
    store: Path
    said: bytes = b""
    process: subprocess.Popen[bytes] = field(init=False)
    _terminal: int = field(init=False)

    def __post_init__(self) -> None:
        self._terminal, other = pty.openpty()
        termios.tcsetwinsize(self._terminal, (40, 120))
        places = {"DIAGNOSE_STORE": str(self.store)}
        quiet = {"PYTHONPATH": str(ROOT), "TERM": "xterm-256color", "HOME": str(self.store.parent)}
        program = "import sys; from diagnose.cli import main; sys.exit(main(sys.argv[1:]))"
        self.process = subprocess.Popen(
            [sys.executable, "-c", program, *self.arguments],
            stdin=other,
            stdout=other,
            stderr=other,
            env=os.environ | places | quiet,
            start_new_session=True,
        )
        os.close(other)

    def read_until(self, wanted: str) -> str:
        """Until the terminal shows ``wanted`` since the last key; gives all that it showed since."""
        for _ in range(_LONGEST):
            if wanted in (text := self.text):
                return text
            self._read()
            assert self.process.poll() is None, self.text
        raise AssertionError(f"'{wanted}' never came:\n{self.text[-3000:]}")

    def rest(self) -> str:
        """Until nothing is said any more."""
        while self._read():
            continue
        return self.text

    def type(self, keys: str) -> None:
        self.said = b""
        os.write(self._terminal, keys.encode())

    def kill(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        os.close(self._terminal)

    @property
    def text(self) -> str:
        return " ".join(_CODES.sub(" ", self.said.decode("utf-8", "replace")).split())

    def _read(self) -> bool:
        ready, _, _ = select.select([self._terminal], [], [], _QUIET)
        if not ready:
            return False
        with contextlib.suppress(OSError):
            self.said += os.read(self._terminal, 65536)
            return True
        return False
