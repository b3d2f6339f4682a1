"""What was read when a door was right, beside what is read today."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.change_words import change_in_words
from diagnose.calls.document import html_of_document
from diagnose.calls.doors import DoorRecord, Doors, known_at
from diagnose.calls.report import record
from diagnose.calls.state import CallState, fold
from diagnose.calls.store import Store, decode, encode
from diagnose.calls.then_and_now import as_left, change_of, difference
from diagnose.calls.verdict import suspects_now
from diagnose.knowledge.distributions import Distribution, LogNormal, Mixture, Normal, Outward, extent, mostly
from diagnose.knowledge.model import Trees
from diagnose.reasoning.own_door import own_door, within_door
from diagnose.sitting.cards import check_card
from tests.doors import TROLLEY_DOOR

THEN = datetime(2026, 3, 2, 12, tzinfo=UTC)
VOLTS = "control-volts"
finite = st.floats(-1e6, 1e6)
error = st.floats(0, 1e3)


def reading_check(trees: Trees) -> str:
    """A reading that causes of some complaint change, with an instrument and a bell curve for sound."""
    return next(
        check.id
        for check in trees.checks.values()
        if check.measure and check.instrument and isinstance(check.healthy, Normal) and signs(trees, check.id)
    )


def signs(trees: Trees, check: str) -> list[str]:
    return [cause.id for cause in trees.causes.values() if check in cause.signs]


def earlier(*events: ev.Event, outcome: ev.Outcome = "returned to service") -> CallState:
    made: list[ev.AnyEvent] = [ev.Opened(sequence=1, at=THEN.isoformat())]
    for number, event in enumerate((*events, ev.Closed(sequence=0, at="", outcome=outcome)), start=2):
        fields = {name: getattr(event, name) for name in event.__struct_fields__}
        made.append(type(event)(**{**fields, "sequence": number, "at": THEN.isoformat()}))  # type: ignore[arg-type]
    return fold(made)


def read(check: str, value: float, unit: str = "V", heard: str = "seen") -> ev.Answered:
    return ev.Answered(sequence=0, at="", check=check, raw=str(value), value=(value,), unit=unit, heard=heard)  # type: ignore[arg-type]


@given(finite, error, finite, error)
def test_a_difference_has_the_uncertainty_that_propagation_gives(a: float, ua: float, b: float, ub: float) -> None:
    """Beside the general law of propagation, JCGM 100:2008, equation 10."""
    change = difference((a, ua), (b, ub))
    # Half the change of the result over each value plus and minus its uncertainty (5.1.3, note 2).
    moves = [((b - (a + ua)) - (b - (a - ua))) / 2, ((b + ub - a) - (b - ub - a)) / 2]
    assert change.difference == b - a
    assert change.error == pytest.approx(math.hypot(*moves), rel=1e-6, abs=1e-6)


def test_a_difference_by_hand() -> None:
    # 0.3 and 0.4 add to 0.5 in quadrature; twice that is 1.0 (JCGM 100:2008, 5.1.2 and 6.3.3).
    assert difference((5.0, 0.3), (5.9, 0.4)).error == pytest.approx(0.5)
    assert not difference((5.0, 0.3), (5.9, 0.4)).is_real
    assert difference((5.0, 0.3), (6.1, 0.4)).is_real and difference((6.1, 0.3), (5.0, 0.4)).is_real


def test_only_what_was_seen_after_the_last_repair_of_a_door_left_right_is_kept(shipped_trees: Trees) -> None:
    check = reading_check(shipped_trees)
    remedy = next(
        r
        for r in shipped_trees.remedies
        if any(r in shipped_trees.causes[c].remedies for c in signs(shipped_trees, check))
    )
    repair = ev.Tried(sequence=0, at="", remedy=remedy, worked=True)
    unit = "V"
    assert as_left(shipped_trees, [earlier(read(check, 1.0), repair)]) == {}
    assert as_left(shipped_trees, [earlier(repair, read(check, 1.0))])[check].values == (1.0,)
    assert as_left(shipped_trees, [earlier(read(check, 1.0, heard="told"))]) == {}
    assert as_left(shipped_trees, [earlier(read(check, math.inf))]) == {}
    assert as_left(shipped_trees, [earlier(read(check, 1.0), outcome="left out of service")]) == {}
    assert as_left(shipped_trees, [earlier(read(check, 1.0), outcome="handed over")])[check].unit == unit
    latest = [earlier(read(check, 1.0)), earlier(read(check, 2.0))]
    assert as_left(shipped_trees, latest)[check].values == (2.0,)
    mended_since = [*latest, earlier(repair, outcome="left out of service")]
    assert as_left(shipped_trees, mended_since) == {}, "a repair of what bears on it takes the reading with it"


def test_what_is_recalled_is_an_event_and_is_not_undone(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, TROLLEY_DOOR)
    call.recall({})
    assert len(call.events) == 1
    call.recall({VOLTS: ev.Then((26.0,), "V", THEN.isoformat())})
    recalled = call.events[-1]
    assert decode(encode(recalled)) == recalled
    assert fold(call.events).then[VOLTS].values == (26.0,)
    assert not call.undo(), "it was not said by anybody at this call"


def test_sound_is_this_doors_own_and_so_is_the_part_of_a_sign_that_is_as_sound(shipped_trees: Trees) -> None:
    check = reading_check(shipped_trees)
    sound = shipped_trees.checks[check].healthy
    assert isinstance(sound, Normal)
    own = own_door(shipped_trees, {check: (sound.mean + sound.spread, 0.01)})
    level = own.checks[check].healthy
    within = within_door(shipped_trees, shipped_trees.checks[check]) * sound.spread
    changed = shipped_trees.costs.changed_since
    assert isinstance(level, Mixture) and [share for share, _ in level.parts] == [1 - changed, changed]
    assert (
        level.parts[0][1] == Normal(sound.mean + sound.spread, math.hypot(within, 0.01)) and level.parts[1][1] == sound
    )
    assert own.digest != shipped_trees.digest and own.digest.startswith(shipped_trees.digest)
    others = [c for c in own.causes if own.causes[c] is not shipped_trees.causes[c]]
    assert set(others) == set(signs(shipped_trees, check))


def test_every_sign_that_holds_the_sound_part_has_it_replaced(shipped_trees: Trees) -> None:
    found = 0
    for check in shipped_trees.checks.values():
        if check.kind == "computed" or not isinstance(check.healthy, (Normal, LogNormal, Mixture)):
            continue
        sound = mostly(check.healthy)
        if not isinstance(sound, (Normal, LogNormal)) or within_door(shipped_trees, check) >= 1:
            continue
        own = own_door(shipped_trees, {check.id: (extent(sound, 0.3)[1], 0.0)})
        level, changed = mostly(own.checks[check.id].healthy or sound), shipped_trees.costs.changed_since
        assert own is not shipped_trees and level != sound
        for cause in signs(shipped_trees, check.id):
            before, after = shipped_trees.causes[cause].signs[check.id], own.causes[cause].signs[check.id]
            held = sum(share for share, part in parts_of(before) if part == sound)
            assert sum(share for share, part in parts_of(after) if part == level) == pytest.approx((1 - changed) * held)
            assert sum(share for share, _ in parts_of(after)) == pytest.approx(1)
            found += held > 0
    assert found > 5


def parts_of(spread: Distribution) -> tuple[tuple[float, Distribution], ...]:
    return spread.parts if isinstance(spread, Mixture) else ((1.0, spread),)


def test_this_or_worse_begins_where_this_doors_own_sound_ends(shipped_trees: Trees) -> None:
    """On a door that reads low it begins lower and is full where it was; on one that reads high all of it moves out."""
    looked_at = 0
    for check in shipped_trees.checks.values():
        sound = check.healthy
        if not isinstance(sound, Normal) or check.kind == "computed" or within_door(shipped_trees, check) >= 1:
            continue
        for cause in signs(shipped_trees, check.id):
            before = shipped_trees.causes[cause].signs[check.id]
            if not isinstance(before, Outward) or before.end < before.full:
                continue
            low = own_door(shipped_trees, {check.id: (sound.mean - sound.spread, 0.0)}).causes[cause].signs[check.id]
            high = (
                own_door(shipped_trees, {check.id: (sound.mean + 2 * sound.spread, 0.0)}).causes[cause].signs[check.id]
            )
            assert isinstance(low, Outward) and isinstance(high, Outward)
            assert low.begins < before.begins and low.full == before.full and low.end == before.end
            assert high.begins >= before.begins and high.full >= before.full and high.begins < high.full < high.end
            looked_at += 1
    assert looked_at > 3


def test_what_no_sound_door_reads_gives_no_level(shipped_trees: Trees) -> None:
    check = reading_check(shipped_trees)
    sound = shipped_trees.checks[check].healthy
    assert isinstance(sound, Normal)
    assert own_door(shipped_trees, {check: (sound.mean + 9 * sound.spread, 0.0)}) is shipped_trees
    assert own_door(shipped_trees, {check: (math.inf, 0.0), "no-such-check": (1.0, 0.1)}) is shipped_trees
    assert own_door(shipped_trees, {}) is shipped_trees


def test_a_real_change_speaks_louder_with_what_was_read_then(shipped_trees: Trees) -> None:
    """Of two equal readings today, one on a door that always read so and one on a door that did not."""
    trees, check = shipped_trees, reading_check(shipped_trees)
    sound = trees.checks[check].healthy
    assert isinstance(sound, Normal)
    unit = trees.checks[check].unit
    cause = next(c for c in signs(trees, check) if any(c in s.causes for s in trees.symptoms.values()))
    symptom = next(s.id for s in trees.symptoms.values() if cause in s.causes)
    today = sound.mean + 1.5 * sound.spread

    def call(then: float | None) -> Call:
        made = Call(trees, {}, [symptom])
        if then is not None:
            from diagnose.quantities import to_si

            made.recall({check: ev.Then((to_si(then, unit),), "", THEN.isoformat())})
        made.answer(check, f"{today:.6g} {unit}")
        return made

    table = call(None).inference.findings
    assert [finding.check.id for finding in table] == [check]
    sound_of = {
        then: call(then).inference.findings[0].scored.sound for then in (None, today, sound.mean - sound.spread)
    }
    assert sound_of[today] > sound_of[None] > sound_of[sound.mean - sound.spread]


def test_then_stands_on_the_card_in_the_evidence_and_in_the_report(shipped_trees: Trees) -> None:
    trees = shipped_trees
    check = trees.checks[VOLTS]
    symptom = next(s.id for s in trees.symptoms.values() if any(VOLTS in trees.causes[c].signs for c in s.causes))
    call = Call(trees, TROLLEY_DOOR, [symptom])
    call.recall({VOLTS: ev.Then((26.0,), "V", THEN.isoformat())})
    assert ("Then", "26.0 V (2026-03-02)") in check_card(call, check).lines
    call.answer(VOLTS, "22 V")
    change = change_of(trees, call.state.then, call.state.answers[VOLTS])
    assert change is not None and change.is_real
    said = change_in_words(check, change)
    assert said == "then 26.0 V, now 22.0 V: 4.0 V less, beyond both instruments' errors"
    assert any(reason.found == said for suspect in suspects_now(call, "us") for reason in suspect.reasons)
    report = html_of_document(record(call))
    assert "Then and now" in report and "4.0 V less" in report
    call.answer(VOLTS, "26.1 V", mode="correction")
    near = change_of(trees, call.state.then, call.state.answers[VOLTS])
    assert near is not None and "within both instruments' errors" in change_in_words(check, near)


def test_a_call_on_a_known_door_begins_with_how_it_was_left(shipped_trees: Trees, tmp_path: Path) -> None:
    store = Store.open(tmp_path / "calls.sqlite3")
    call_id = store.begin()
    first = Call(
        shipped_trees,
        TROLLEY_DOOR,
        site="Alder Works",
        door="Dock 3",
        clock=lambda: THEN + timedelta(days=1),
        recorder=store.recorder(call_id),
    )
    first.answer(VOLTS, "26 V")
    store.append(
        call_id,
        ev.Closed(sequence=len(first.events) + 1, at=THEN.isoformat(), outcome="returned to service"),
    )
    assert known_at(store, shipped_trees, "Alder Works", "Dock 3").readings == {}, "a door that is not kept"
    Doors.of(store).keep(DoorRecord(site="Alder Works", name="Dock 3"))
    known = known_at(store, shipped_trees, "alder works", "dock 3")
    assert known.readings[VOLTS].values == (26.0,)
    store.close()
