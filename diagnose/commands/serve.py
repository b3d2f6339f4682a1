"""``diagnose serve``: the same screens in a browser, on this machine or behind a proxy that signs people in."""

from __future__ import annotations

import ipaddress
import sys
from urllib.parse import urlsplit

import click

from diagnose.cli import Session
from diagnose.commands.given import wanting

_MISSING = "The browser needs the Python package 'textual-serve': pip install 'diagnose[serve]'."


@click.command()
@click.option("--port", type=click.IntRange(1, 65535), default=8000, show_default=True, help="Port to listen on.")
@click.option("--host", default="localhost", show_default=True, metavar="ADDRESS", help="Address to listen on.")
@click.option(
    "--proxy-with-sign-in",
    "proxy",
    metavar="URL",
    help="A reverse proxy stands before this one and lets nobody through who has not signed in; URL is its address.",
)
@click.option("--name-header", default="", metavar="NAME", help="The header in which that proxy says who signed in.")
@click.pass_obj
def serve(session: Session, port: int, host: str, proxy: str | None, name_header: str) -> int:
    """Open the screens in a browser, a session for each visitor, until Ctrl+C.

    Only this machine can reach them. Whoever reaches them can do all that you can here: there is no password. Another
    --host is taken only together with --proxy-with-sign-in, the address of a reverse proxy that signs people in and is
    alone in reaching this one. --name-header says who they are, so that each entry is kept under its own name.

    A session ends with its connection; what was said in it is kept. Records and sheets are saved as downloads.

    \b
    Examples:
      diagnose serve
      diagnose --store postgresql://shop.example/diagnose serve --port 8080
      diagnose serve --host 10.1.2.3 --proxy-with-sign-in https://doors.shop.example --name-header X-Remote-User
    """
    _stands_safely(host, proxy, name_header)
    with wanting(_MISSING):
        from diagnose.commands.web_server import Web
    # What is wrong with them is said here, and not to every visitor.
    _ = session.trees, session.store
    program = [sys.executable, "-m", "diagnose"]
    for option, value in (("--trees", session.trees_folder), ("--store", session.store_location)):
        program += [option, value] if value else []
    try:
        Web(program, host, port, proxy=proxy or "", name_header=name_header).serve()
    except OSError as error:
        raise click.ClickException(f"{host}:{port} cannot be had: {error.strerror or error}") from None
    return 0


def _stands_safely(host: str, proxy: str | None, name_header: str) -> None:
    """Raises ``click.UsageError`` where somebody could reach the screens whom nobody let in."""
    number = _address(host)
    if proxy is None:
        if not (host == "localhost" or (number is not None and number.is_loopback)):
            raise click.UsageError(
                f"There is no sign-in here, and {host} can be reached from elsewhere. Put a reverse proxy with a "
                "sign-in before it and give its address: --proxy-with-sign-in https://…"
            )
        if name_header:
            raise click.UsageError("--name-header is believed only behind --proxy-with-sign-in.")
        return
    address = urlsplit(proxy)
    if address.scheme not in ("http", "https") or not address.hostname or address.path.strip("/") or address.query:
        raise click.UsageError(f"'{proxy}' is no address such as https://doors.shop.example, with nothing after it.")
    if host in ("", "*") or (number is not None and number.is_unspecified):
        raise click.UsageError(f"'{host}' means every address of this machine. Say the one that the proxy goes to.")


def _address(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """``None`` for a name."""
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None
