"""A headless Chromium driven by its own protocol for tools, and what its page was sent, as a terminal shows it."""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import subprocess
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from rich.cells import cell_len

# One turn of the page's own timer, and how many of them anything is waited for.
_TURN = "new Promise(done => setTimeout(done, 100))"
_TURNS = 300
_KEYS = {"Enter": 13, "F5": 116, "F10": 121, ".": 190}
# Escape sequences: where the cursor goes, what is told to the terminal, and all others.
_SEQUENCES = re.compile(
    r"\x1b\[(?P<row>\d*);?(?P<column>\d*)H|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b\[[^@-~]*[@-~]|\x1b."
)


class Terminal:
    """As much of a terminal as tells what stands where."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], str] = {}
        self._row = self._column = 0

    def feed(self, text: str) -> None:
        at = 0
        while at < len(text):
            if (found := _SEQUENCES.match(text, at)) is not None:
                at = found.end()
                if found["row"] is not None:
                    self._row, self._column = int(found["row"] or 1), int(found["column"] or 1)
            else:
                self._put(text[at])
                at += 1

    def _put(self, letter: str) -> None:
        if letter == "\n":
            self._row += 1
        elif letter == "\r":
            self._column = 1
        else:
            self._cells[self._row, self._column] = letter
            self._column += cell_len(letter)

    @property
    def words(self) -> str:
        """All that stands on the screen, in one line."""
        return " ".join("".join(letter for _, letter in sorted(self._cells.items())).split())


class Browser:
    """One page. Every wait is a number of turns of the page's own timer."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket, self._session, self._number = socket, "", 0
        self.terminal = Terminal()
        self.asked_for: list[str] = []

    async def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        self._number += 1
        number = self._number
        asked = {"id": number, "method": method, "params": parameters}
        await self._socket.send_json(asked | ({"sessionId": self._session} if self._session else {}))
        async for message in self._socket:
            said = json.loads(message.data)
            if said.get("id") == number:
                assert "error" not in said, said
                return dict(said["result"])
            self._hear(said.get("method", ""), said.get("params", {}))
        raise AssertionError("The browser is gone.")

    def _hear(self, method: str, parameters: dict[str, Any]) -> None:
        if method == "Network.webSocketFrameReceived" and parameters["response"]["opcode"] == 2:
            self.terminal.feed(base64.b64decode(parameters["response"]["payloadData"]).decode())
        elif method == "Network.requestWillBeSent":
            self.asked_for.append(parameters["request"]["url"])

    async def open(self, url: str, downloads: Path) -> None:
        target = await self.call("Target.createTarget", url="about:blank")
        attached = await self.call("Target.attachToTarget", targetId=target["targetId"], flatten=True)
        await self.call("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(downloads))
        self._session = attached["sessionId"]
        await self.call("Emulation.setDeviceMetricsOverride", width=1000, height=700, deviceScaleFactor=1, mobile=False)
        await self.call("Emulation.setFocusEmulationEnabled", enabled=True)
        await self.call("Network.enable")
        await self.call("Page.navigate", url=url)

    async def evaluate(self, script: str) -> Any:
        done = await self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        return done["result"].get("value")

    async def turns(self, count: int) -> None:
        for _ in range(count):
            await self.evaluate(_TURN)

    async def sees(self, words: str) -> None:
        for _ in range(_TURNS):
            if words in self.terminal.words:
                return
            await self.evaluate(_TURN)
        raise AssertionError(f"'{words}' never came: {self.terminal.words}")

    async def press(self, *keys: str) -> None:
        for key in keys:
            await self.turns(4)  # keys that follow a new question too quickly are not taken for its answer
            given = {"key": key, "text": key} if len(key) == 1 else {"key": key, "code": key}
            if key == "Enter":
                given["text"] = "\r"
            code = _KEYS.get(key, ord(key[0].upper()))
            await self.call("Input.dispatchKeyEvent", type="keyDown", windowsVirtualKeyCode=code, **given)
            await self.call("Input.dispatchKeyEvent", type="keyUp", windowsVirtualKeyCode=code, key=key)

    async def control(self, letter: str) -> None:
        await self.call(
            "Input.dispatchKeyEvent",
            type="rawKeyDown",
            modifiers=2,
            key=letter,
            code=f"Key{letter.upper()}",
            windowsVirtualKeyCode=ord(letter.upper()),
        )

    async def downloaded(self, folder: Path, ending: str) -> Path:
        for _ in range(_TURNS):
            if found := sorted(folder.glob(f"*{ending}")):
                return found[0]
            await self.evaluate(_TURN)
        raise AssertionError(f"No file ending in {ending} came.")


@asynccontextmanager
async def browser(folder: Path) -> AsyncIterator[Browser]:
    """A browser of the test's own; the test is skipped where there is no Chromium, and fails so where CI is set."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("there is no Chromium")
    # The sandbox is of no use to whoever is root, and tests open nothing but their own pages.
    options = ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--remote-debugging-port=0")
    running = subprocess.Popen(
        [program, *options, f"--user-data-dir={folder}", "about:blank"], stderr=subprocess.PIPE, text=True
    )
    assert running.stderr is not None
    try:
        address = next(line.split()[-1] for line in running.stderr if "DevTools listening on" in line)
        async with aiohttp.ClientSession() as session, session.ws_connect(address, max_msg_size=0) as socket:
            driven = Browser(socket)
            yield driven
            driven._session = ""
            await socket.send_json({"id": 0, "method": "Browser.close"})
    finally:
        running.terminate()
        running.stderr.close()
        running.wait()
