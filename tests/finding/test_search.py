"""Searches that somebody at a door would type, and what must stand first."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from diagnose.finding.meant import meant
from diagnose.finding.reading import Reader, trade_reader
from diagnose.finding.search import Shelf, Text
from diagnose.knowledge.model import Trees

# Typed → the list it is typed in, and the entries of which one stands first.
SEARCHES: dict[tuple[str, str], tuple[str, ...]] = {
    ("complaints", "snapped cable"): ("door-crooked",),
    ("complaints", "stuck open"): ("runs-one-way-only", "will-not-close-on-timer", "will-not-close-at-all"),
    ("complaints", "rope"): ("release-will-not-free",),
    ("complaints", "fob"): ("remote-not-heard",),
    ("complaints", "capacitor"): ("hums-does-not-move",),
    ("complaints", "loop"): ("detector-holds-door",),
    ("checks", "rope"): ("lock-or-rope", "slide-belt-looks"),
    ("checks", "chain slack"): ("chain-slack",),
    ("checks", "capacator"): ("capacitor-value", "capacitor-looks"),
    ("checks", "receiving eye lamp"): ("eye-lamp-receiver",),
    ("checks", "brake ohms"): ("brake-coil-ohms",),
    ("checks", "fob battery"): ("fresh-battery-helps", "remote-battery-volts"),
    ("checks", "sprocket teeth"): ("sprocket-teeth", "sprocket-teeth-look"),
    ("checks", "breaker feeds"): ("breaker-state",),
    ("repairs", "lubri"): ("grease-shaft-bearings", "oil-spring-coils", "free-release"),
    ("repairs", "snapped cable"): ("replace-cables",),
    ("repairs", "clicker battery"): ("change-remote-battery",),
    ("repairs", "align eye"): ("realign-eyes",),
    ("repairs", "chain tension"): ("tension-chain",),
    ("repairs", "adjust limits"): ("set-limits",),
}


@pytest.fixture(scope="module")
def found_first(shipped: Trees) -> dict[tuple[str, str], str]:
    reader = trade_reader(shipped)
    checks, remedies = list(shipped.checks.values()), list(shipped.remedies.values())
    causes: dict[str, list[str]] = {}
    for cause in shipped.causes.values():
        for remedy in cause.remedies:
            causes.setdefault(remedy, []).append(cause.title)
    shelves = {
        "checks": Shelf([Text(check.text, " ".join(check.answers)) for check in checks], reader),
        "repairs": Shelf([Text(each.title, " ".join(causes.get(each.id, ()))) for each in remedies], reader),
    }
    entries: dict[str, Sequence[str]] = {"checks": [c.id for c in checks], "repairs": [r.id for r in remedies]}

    def first(where: str, typed: str) -> str:
        if where == "complaints":
            return next((symptom.id for symptom in meant(shipped, typed).all), "")
        return next((entries[where][place] for place in shelves[where].find(typed)), "")

    return {search: first(*search) for search in SEARCHES}


def test_of_twenty_searches_the_right_entry_stands_first_in_eighteen(
    found_first: dict[tuple[str, str], str],
) -> None:
    wrong = [(search, found_first[search]) for search, right in SEARCHES.items() if found_first[search] not in right]
    assert len(SEARCHES) == 20
    assert len(wrong) <= 2, wrong


def find(typed: str, *texts: str) -> list[str]:
    return [texts[place] for place in Shelf([Text(text) for text in texts], Reader()).find(typed)]


def test_any_order_beginnings_and_slips() -> None:
    texts = ("Replace the brake", "Replace the brake spring", "Grease the bearings")
    assert find("spring brake", *texts) == ["Replace the brake spring"]
    assert find("brake", *texts) == ["Replace the brake", "Replace the brake spring"]
    assert find("bear", *texts) == ["Grease the bearings"]
    assert find("braek sprnig", *texts)[0] == "Replace the brake spring"
    assert find("zebra", *texts) == []
    assert find("", *texts) == list(texts)
    assert find("the", *texts), "where nothing else is typed, a small word is looked for too"


def test_the_most_words_where_no_text_has_all_and_never_less_than_half() -> None:
    texts = ("Replace the brake", "Oil the spring")
    assert find("spring zebra", *texts) == ["Oil the spring"]
    assert find("spring zebra lion", *texts) == []
    assert Shelf([Text(text) for text in texts], Reader()).find("spring zebra", whole=True) == []


def test_words_of_the_trade_mean_each_other(shipped: Trees) -> None:
    shelf = Shelf([Text("Pull the rope"), Text("Change the remote's battery")], trade_reader(shipped))
    assert shelf.find("cord") == [0] and shelf.find("clicker") == [1]
    assert shelf.find("pull handle") == [0]
