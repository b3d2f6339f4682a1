"""The card of a remedy says what size is to be fitted, from what was measured."""

from __future__ import annotations

from diagnose import Call
from diagnose.formulas import find
from diagnose.knowledge.model import Trees
from diagnose.sitting.cards import sizes_of


def test_the_size_is_worked_out_from_what_was_measured(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, {"devices": ["photo-eye"]}, ["closes-only-while-held"])
    remedy = shipped_trees.remedies["heavier-eye-wire"]
    (wanting,) = sizes_of(call, remedy)
    assert "first measure" in wanting and "Length of the wire from the operator" in wanting
    call.answer("eye-volts-near-end", "24 V")
    call.answer("eye-pair-current", "60 mA")
    (wanting,) = sizes_of(call, remedy)
    assert "Length of the wire" in wanting and "voltage" not in wanting
    call.answer("eye-wire-run", "240 ft")
    (size,) = sizes_of(call, remedy)
    exactly = find("smallest-gauge").evaluate({"volts": 24.0, "amps": 0.06, "run": 240.0, "percent": 10.0})
    assert f"{exactly.values['gauge']:.0f} AWG or larger" in size and "240 ft" in size


def test_what_this_door_has_no_use_for_is_not_said(shipped_trees: Trees) -> None:
    remedy = shipped_trees.remedies["heavier-supply-wire"]
    single = Call(shipped_trees, {"supply": "single-phase"}, ["slow-or-labouring"])
    three = Call(shipped_trees, {"supply": "three-phase"}, ["slow-or-labouring"])
    assert sizes_of(single, remedy) and not sizes_of(three, remedy)
