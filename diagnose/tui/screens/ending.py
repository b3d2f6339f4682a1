"""A call left open is ended, with a reason, from any list that shows it."""

from __future__ import annotations

from typing import Any

from diagnose.tui.screens.page import Page
from diagnose.tui.screens.sentence import SentencePage

_ASK = "Why does nobody go on with this call? It ends with this reason, and leaves the calls that are open."


async def end_call(page: Page[Any], row: str, crumb: str) -> str:
    """Ask why, and end the call of a ``row``; gives back what is to be said of it, or nothing.

    Only to be awaited in a worker.
    """
    from diagnose.sitting.phone import how_it_ended

    kind, _, identity = row.partition(":")
    if kind != "call":
        return "Move to a call left open first; what ends is the one that is highlighted."

    async def keep(reason: str) -> str:
        return await page.desk.end(identity, reason)

    if not await page.app.push_screen_wait(SentencePage(f"{crumb} › End a call", _ASK, keep, "the reason")):
        return ""
    kept = page.desk.kept(identity)
    return kept if isinstance(kept, str) else how_it_ended(kept.call)
