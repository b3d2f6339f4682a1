"""Every call kept here: all or those in one state, in an order of one's choice."""

from __future__ import annotations

from collections.abc import Sequence

from textual import work

from diagnose.calls.store import CALL_ORDERS, CALL_STATES, CallSummary, sorted_calls
from diagnose.tui import actions
from diagnose.tui.rows import call_row
from diagnose.tui.screens.page import ListPage
from diagnose.tui.screens.sentence import end_call


class Calls(ListPage[None]):
    """Enter opens a call, open or closed."""

    place = actions.CALLS
    TITLE = "diagnose › All calls"
    hint = "Type a site, a door, a complaint or a day"
    _calls: Sequence[CallSummary] = ()
    # How often each was changed: what is shown goes round.
    _state = _order = 0
    # What came of the last thing that was done; it is said once.
    _said = ""

    @work(exclusive=True, group="calls")
    async def on_screen_resume(self) -> None:
        store = await self.store_of_calls()
        calls = await self.worked_out(store.calls) if store is not None else None
        if calls is not None:
            self._calls = calls
            self._show()

    def _show(self) -> None:
        wanted = ("all", *CALL_STATES)[self._state % (len(CALL_STATES) + 1)]
        order = CALL_ORDERS[self._order % len(CALL_ORDERS)]
        calls = [call for call in sorted_calls(self._calls, order) if wanted in ("all", call.state)]
        self.pick_list.show([call_row(self.desk.trees, call) for call in calls])
        which = "All calls" if wanted == "all" else f"Calls that are {wanted}"
        by = "the latest first" if order == "latest" else f"by {order}"
        counted = f"{which}, {by}: {len(calls)}" if self._calls else "No call is kept here yet."
        self.tell(self._said or counted)
        self._said = ""

    def action_go_on(self) -> None:
        from diagnose.tui.screens.shop import ShopPage

        self.app.push_screen(ShopPage())

    def action_next_state(self) -> None:
        self._state += 1
        self._show()

    def action_state_before(self) -> None:
        self._state -= 1
        self._show()

    def action_order(self) -> None:
        self._order += 1
        self._show()

    @work(exclusive=True, group="end call")
    async def action_end(self) -> None:
        told = await end_call(self, self.pick_list.highlighted, "All calls")
        self.desk.show_calls()
        self._said = told
        self.on_screen_resume()

    def picked(self, identity: str) -> None:
        self.tell(self.desk.resume(identity.partition(":")[2]))
