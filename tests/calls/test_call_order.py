"""Calls in a list: their states, and the orders they are put in."""

from __future__ import annotations

from diagnose.calls.store import CALL_ORDERS, CallSummary, sorted_calls


def call(id: str, at: str, **more: str | None) -> CallSummary:
    told = {"site": "", "door": "", "outcome": None, "waiting": ""} | more
    return CallSummary(
        id=id,
        opened_at=at,
        last_at=at,
        site=str(told["site"]),
        door=str(told["door"]),
        symptoms=(str(more.get("symptom", "")),),
        outcome=told["outcome"],
        likely_cause="",
        waiting=str(told["waiting"]),
    )


CALLS = [
    call("a", "2031-05-01", site="Quay", symptom="hums", outcome="left out of service"),
    call("b", "2031-05-02", site="Annex", symptom="dark", waiting="a part"),
    call("c", "2031-05-03", site="quay", symptom="crooked"),
]


def test_an_open_call_that_waits_is_waiting() -> None:
    assert [each.state for each in CALLS] == ["closed", "waiting", "open"]


def test_calls_alike_in_an_order_stand_the_latest_first() -> None:
    orders = {order: "".join(each.id for each in sorted_calls(CALLS, order)) for order in CALL_ORDERS}
    assert orders == {"latest": "cba", "site": "bca", "state": "cba", "complaint": "cba"}
