"""Where the door of a phone call is, and how to call back."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable

from textual import on, work
from textual.widget import Widget
from textual.widgets import Input, Static

from diagnose.tui.screens.page import Page
from diagnose.tui.text import plain, show_line

Keep = Callable[[str, str, str], Awaitable[str]]


class WherePage(Page[bool]):
    """Where the door is, and how to call back. All of it may stay empty."""

    def __init__(self, keep: Keep) -> None:
        super().__init__("Phone call › Where")
        self._keep = keep

    def body(self) -> Iterable[Widget]:
        yield Static(
            plain("Site, door, and who calls. Enter goes on; each may stay empty.", "bold"),
            classes="line",
            markup=False,
        )
        yield Static("Site", classes="line", markup=False)
        yield Input(placeholder="site", id="site", max_length=120)
        yield Static("Door", classes="line", markup=False)
        yield Input(placeholder="which door", id="which", max_length=120)
        yield Static("Caller", classes="line", markup=False)
        yield Input(placeholder="who calls, and the number to call back", id="caller", max_length=120)
        problem = Static(id="problem", markup=False)
        problem.display = False
        yield problem

    def on_mount(self) -> None:
        self.query_one("#site", Input).focus()

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        if event.input.id == "caller":
            self._go_on()
        else:
            self.focus_next()

    @work(exclusive=True)
    async def _go_on(self) -> None:
        site, door, caller = (self.query_one(name, Input).value.strip() for name in ("#site", "#which", "#caller"))
        wrong = await self._keep(site, door, caller)
        if wrong:
            show_line(self.query_one("#problem", Static), f"✗ {wrong}")
        else:
            self.dismiss(True)
