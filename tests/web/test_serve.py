"""The screens in a real browser; and who is let in to them."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import aiohttp
import pytest

from diagnose.calls.events import Answered
from diagnose.calls.store import Store
from diagnose.cli import main

from .chromium import Terminal, browser

TREES = Path(__file__).parents[1] / "tui" / "trees"


@contextmanager
def served(place: Path, *options: str) -> Iterator[str]:
    """The address of a server that is stopped as by Ctrl+C, and ends well."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    given = ["--trees", str(TREES), "--store", str(place), "serve", "--port", str(port), *options]
    server = subprocess.Popen([sys.executable, "-m", "diagnose", *given], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    try:
        assert "until Ctrl+C" in server.stdout.readline()
        yield f"http://localhost:{port}"
    finally:
        server.send_signal(signal.SIGINT)
        said = server.stdout.read()
        server.stdout.close()
        assert server.wait() == 0
        assert "Traceback" not in said


@pytest.mark.long
async def test_a_call_a_reading_and_a_download_in_a_browser(tmp_path: Path) -> None:
    place, downloads = tmp_path / "calls.sqlite3", tmp_path / "downloads"
    downloads.mkdir()
    async with browser(tmp_path / "profile") as page:
        with served(place) as address:
            await page.open(address, downloads)
            await page.sees("The eye's lamp is wrong")
            await page.press("Enter", "1", "1", "F5")
            await page.sees("What does the lamp on the eye do?")
            await page.press("0")
            await page.sees("What does the lens look like?")
            await page.press("1")
            await page.sees("Voltage at the eye")
            await page.press(*"23.5 V", "Enter")
            await page.sees("Taken down: 23.5 V")
            await page.press("F10")
            await page.sees("Service record")
            await page.control("s")
            await page.sees("Its ending says in which form")
            await page.press("Enter")
            await page.sees("Sent to the browser")
            record = (await page.downloaded(downloads, ".html")).read_text(encoding="utf-8")
            assert record.startswith("<!DOCTYPE html>") and "23.5 V" in record
            assert {url.split("/")[2] for url in page.asked_for} == {address.split("/")[2]}, "nothing from elsewhere"
            # Whoever comes back finds the call where it stopped.
            await page.call("Page.reload")
            page.terminal = Terminal()
            await page.sees("CALLS LEFT OPEN")
    store = Store.open(place)
    (call,) = store.calls()
    assert [e.raw for e in store.events(call.id) if isinstance(e, Answered)][-1] == "23.5 V"
    store.close()


async def test_another_sites_page_is_kept_out_and_entries_bear_the_name_the_proxy_gives(tmp_path: Path) -> None:
    place = tmp_path / "calls.sqlite3"
    behind = ("--proxy-with-sign-in", "https://doors.example", "--name-header", "X-Who")
    with served(place, *behind) as address:
        async with aiohttp.ClientSession() as session:
            for url in (f"{address}/ws", address):
                async with session.get(url, headers={"Origin": "http://elsewhere.example"}) as refused:
                    assert refused.status == 403
            async with session.get(address) as page:
                assert "wss://doors.example/ws" in await page.text()
                assert "frame-ancestors 'none'" in page.headers["Content-Security-Policy"]
            headers = {"Origin": "https://doors.example", "X-Who": "Ana O'Hara; $(exit)"}
            async with session.ws_connect(f"{address}/ws", headers=headers) as visit:
                terminal, keys = Terminal(), iter(["\r", "1", "\x1b[15~"])
                for words in ("The eye's lamp is wrong", "Understood", "How is the door moved?", "Likely causes"):
                    async for message in visit:
                        terminal.feed(message.data.decode())
                        if words in terminal.words:
                            break
                    await visit.send_json(["stdin", next(keys, "")])
    store = Store.open(place)
    (call,) = store.calls()
    assert {event.by for event in store.events(call.id)} == {"Ana O'Hara exit"}
    store.close()


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (["--host", "0.0.0.0"], "no sign-in"),
        (["--host", "shop.example"], "no sign-in"),
        (["--name-header", "X-Who"], "believed only behind"),
        (["--host", "0.0.0.0", "--proxy-with-sign-in", "https://doors.example"], "every address"),
        (["--host", "10.0.0.5", "--proxy-with-sign-in", "doors.example"], "no address such as"),
    ],
)
def test_nobody_is_let_in_unasked(given: list[str], why: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["serve", *given]) == 2
    assert why in capsys.readouterr().err


def test_without_the_package_for_it_a_sentence_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delitem(sys.modules, "diagnose.commands.web_server", raising=False)
    monkeypatch.setitem(sys.modules, "textual_serve", None)
    monkeypatch.setitem(sys.modules, "textual_serve.server", None)
    assert main(["serve"]) == 2
    assert "pip install 'diagnose[serve]'" in capsys.readouterr().err


def test_a_port_that_is_taken_is_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert main(["--trees", str(TREES), "serve", "--host", "127.0.0.1", "--port", port]) == 2
    assert "cannot be had" in capsys.readouterr().err
