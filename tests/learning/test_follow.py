"""Parts on the van, the promise and the urgency of a call go by the learnt figures."""

from __future__ import annotations

from msgspec.structs import replace

from diagnose.calls.call import Call
from diagnose.knowledge.learned import Change, Learned, now, with_learned
from diagnose.knowledge.model import Danger, Trees, Urgency, Van
from diagnose.screening.sheet import make_sheet

FACTS = {"devices": ("photo-eye",), "drive": "trolley"}


def learnt(trees: Trees, *sorts: tuple[str, str, str, object]) -> Trees:
    changes = []
    for what, entry, at, to in sorts:
        blank = Change(what=what, entry=entry, at=at, was=0.0, to=to, calls=200)  # type: ignore[arg-type]
        was = now(trees, blank)
        assert was is not None
        changes.append(replace(blank, was=was))
    with_it, unfit = with_learned(trees, Learned(changes=tuple(changes)))
    assert not unfit
    return with_it


def call(trees: Trees) -> Call:
    return Call(trees, FACTS, ["eye-lamp-wrong"])


def shop_with_van(trees: Trees) -> Trees:
    """A van on which a pair of eyes is worth its place only where it is likely to be needed."""
    van = Van(id="van", title="Van", weight=100, volume=100, wear=0.2)
    parts = {name: replace(part, price=400.0) for name, part in trees.parts.items()}
    return replace(trees, vans={"van": van}, parts=parts, digest="van")


def test_a_part_that_is_needed_oftener_goes_on_the_van(small_trees: Trees) -> None:
    shipped = shop_with_van(small_trees)
    wanted = set(shipped.remedies["replace-eye-pair"].parts)
    oftener = learnt(shipped, ("base rate", "eye-dead", "", 0.3))

    def loaded(trees: Trees) -> set[str]:
        sheet = make_sheet(call(trees))
        return {load.part for load in sheet.load.loads}

    assert wanted.isdisjoint(loaded(shipped)) and wanted <= loaded(oftener)


def test_the_promise_follows_minutes_and_success(small_trees: Trees) -> None:
    shipped = call(small_trees).next_step().expected_minutes_left
    slower = learnt(small_trees, *(("minutes of remedy", name, "", 90.0) for name in small_trees.remedies))
    surer = learnt(small_trees, ("success of remedy", "remake-splice", "eye-wiring-open", 0.3))
    assert call(slower).next_step().expected_minutes_left > shipped + 30
    assert call(surer).next_step().expected_minutes_left > shipped


def test_what_is_likely_dangerous_is_urgent_by_the_learnt_rates(small_trees: Trees) -> None:
    danger = Danger(
        id="bare-wire",
        title="A bare wire",
        ask="Is a wire bare?",
        instruction="Keep away.",
        word="DANGER",
        urgency="today",
        signs={"splice-looks": ("green or loose",)},
    )
    soon = Urgency(id="soon", title="A bare wire is likely", urgency="today", danger_likely=0.6)
    shipped = replace(small_trees, dangers={"bare-wire": danger}, urgencies={"soon": soon}, digest="urgent")
    oftener = learnt(shipped, ("base rate", "eye-wiring-open", "", 0.4))
    urgent = {trees.digest: make_sheet(call(trees)).urgency for trees in (shipped, oftener)}
    assert urgent[shipped.digest] != "today" and urgent[oftener.digest] == "today"
