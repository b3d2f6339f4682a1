"""The screens for browsers: a process for each visitor, and nobody let in from another site's page.

Imported only where the optional package ``textual-serve`` is wanted.
"""

from __future__ import annotations

import asyncio
import logging
import os
import re
import shlex
import subprocess
from collections.abc import Sequence
from contextvars import ContextVar
from pathlib import Path
from urllib.parse import urlsplit

import click
from aiohttp import web
from aiohttp.typedefs import Handler, Middleware
from textual_serve.server import Server

# Nothing is fetched from elsewhere, and no other page may put this one in a frame.
_HEADERS = {
    "Content-Security-Policy": "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self' ws: wss:; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
_PAGE = Path(__file__).with_name("page")
# Who signed in, of the visitor whose session is being started.
_visitor: ContextVar[str] = ContextVar("visitor", default="")


class Web(Server):
    """``program`` opens the screens, as a list of arguments. ``proxy`` is the address of the reverse proxy before it,
    and ``name_header`` where that proxy says who signed in; both may be empty.
    """

    def __init__(self, program: Sequence[str], host: str, port: int, *, proxy: str = "", name_header: str = "") -> None:
        self._program = list(program)
        self._behind_proxy, self._name_header = bool(proxy), name_header
        self._visits: set[asyncio.Task[object]] = set()
        named = f"[{host}]" if ":" in host else host
        address = proxy.rstrip("/") or f"http://{named}:{port}"
        super().__init__("", host, port, "diagnose", address, templates_path=_PAGE)
        names = {urlsplit(self.public_url).netloc}
        if not proxy:
            names |= {f"{each}:{port}" for each in ("localhost", "127.0.0.1", "[::1]")}
        self._origins = {f"{urlsplit(self.public_url).scheme}://{name}".casefold() for name in names}

    # The library reads this for every visitor, and gives it to a shell.
    @property
    def command(self) -> str:
        words = [*self._program, *(["--by", name] if (name := _visitor.get()) else [])]
        return subprocess.list2cmdline(words) if os.name == "nt" else f"exec {shlex.join(words)}"

    @command.setter
    def command(self, _: str) -> None:
        """What the library sets at first is of no use here."""

    def serve(self, debug: bool = False) -> None:
        """Until Ctrl+C. Raises ``OSError`` where the address cannot be had."""
        logging.basicConfig(level=logging.WARNING, format="%(message)s")
        web.run_app(
            self._make_app(),
            host=self.host,
            port=self.port,
            print=lambda *_: self._say_where(),
            access_log=None,
            shutdown_timeout=5,
        )

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._let_in)
        app.router.add_get("/screens.js", _script)
        return app

    @property
    def _let_in(self) -> Middleware:
        @web.middleware
        async def let_in(request: web.Request, handler: Handler) -> web.StreamResponse:
            origin = request.headers.get("Origin")
            # Any page that is open in the same browser could reach this machine; the browser says which page it is.
            if origin is not None and origin.casefold() not in self._origins:
                raise web.HTTPForbidden(text="Not from here.")
            if request.path != "/ws":
                response = await handler(request)
                if not response.prepared:
                    response.headers.update(_HEADERS)
                return response
            _visitor.set(_name(request.headers.get(self._name_header, "")) if self._name_header else "")
            visit = asyncio.current_task()
            assert visit is not None
            self._visits.add(visit)
            try:
                return await handler(request)
            finally:
                self._visits.discard(visit)

        return let_in

    async def on_startup(self, app: web.Application) -> None:
        """The library's own welcome is left out: nobody can be let in yet."""

    def _say_where(self) -> None:
        click.echo(f"The screens are at {self.public_url} until Ctrl+C.")
        if self._behind_proxy:
            click.echo(
                f"There is no sign-in here: nobody but the reverse proxy at {self.public_url} may reach "
                f"{self.host}:{self.port}, and that proxy must ask everybody who they are."
            )
        else:
            click.echo(
                "Only this machine can reach them. There is no sign-in: whoever uses this machine can open them."
            )

    async def on_shutdown(self, app: web.Application) -> None:
        """Each visitor's session ends well; what was said is kept already."""
        visits = list(self._visits)
        for visit in visits:
            visit.cancel()
        if visits:
            await asyncio.wait(visits, timeout=5)


async def _script(_: web.Request) -> web.FileResponse:
    return web.FileResponse(_PAGE / "screens.js")


def _name(said: str) -> str:
    """A name as the proxy gave it: one line without what a shell or a screen could take for something else."""
    return re.sub(r"[^\w .@'+-]", "", said).strip(" -")[:80]
