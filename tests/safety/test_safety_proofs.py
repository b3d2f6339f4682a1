"""What the shipped proofs ask of each kind of door, and of each hazard that a check can show."""

from __future__ import annotations

import re
from typing import Any

import pytest

from diagnose.knowledge.doors import all_doors
from diagnose.knowledge.model import Proof, Trees, isolation
from diagnose.reasoning.plan import proofs_needed

GUARDS = ("photo-eye", "light-curtain", "sensing-edge")
CLOSERS = ("timer", "remote", "card-reader", "network-module", "loop-detector")
# Answers that speak of damage and that nobody can be hurt by, or that a monitored guard or a proof of every door shows.
HARMLESS = {
    "belt-looks": "it still drives; one that is off or parted is a hazard of its own",
    "breakaway-link-state": "the link is monitored, and nothing runs without its word",
    "closing-settings": "a setting that speaks of a power cut",
    "contactor-contacts-look": "it starts badly; one that is welded is a hazard of its own",
    "contactor-faces": "it chatters; one that stays in is a hazard of its own",
    "credential-looks": "a card that opens nothing",
    "edge-air-hose": "the guard is monitored, and the door does not close",
    "edge-cord-looks": "the guard is monitored, and the door does not close",
    "encoder-plug-looks": "the operator refuses to run without its place",
    "eye-housing": "the guard is monitored, and the door does not close",
    "gasket-looks": "a gasket",
    "jamb-seals-look": "a seal",
    "limit-switch-feel": "a limit that is open stops the door; one that is closed is a hazard of its own",
    "loop-slot-looks": "a saw cut in the floor",
    "pull-cord-looks": "a cord",
    "receiver-antenna-looks": "an aerial",
    "remote-inside": "a remote",
    "over-the-middle": "the lamp that should stay on",
    "power-event": "what happened, and nothing seen at the door",
    "reset-done": "what was done, and nothing seen at the door",
    "seal-condition": "a seal",
    "update-when": "what was done, and nothing seen at the door",
    "warning-element-looks": "every door is run with its lamp and horn in sight",
    "warning-relay-shown": "it warns without end",
}
DAMAGE = re.compile(
    r"\b(broken|crack\w*|parted|frayed|burn\w*|charred|welded|torn|sheared|swollen|crushed|chafed|cut|stays on)\b"
    r"|keeps running|stays in after|no drawing, | a wire |its fixing|loose at the wall|gap in a coil"
)


def needed(trees: Trees, remedies: tuple[str, ...] = (), **facts: Any) -> set[str]:
    return {proof.id for proof in proofs_needed(trees, facts, remedies)}


@pytest.fixture(scope="module")
def trees(shipped_trees: Trees) -> Trees:
    return shipped_trees


def test_a_door_without_a_guard_is_proved_held_and_nothing_else_closes_it(trees: Trees) -> None:
    bare = needed(trees, devices=("wall-station",))
    assert "closes-only-held" in bare and "nothing-else-closes" not in bare
    for closer in CLOSERS:
        assert {"closes-only-held", "nothing-else-closes"} <= needed(trees, devices=("wall-station", closer))
        for guard in GUARDS:
            guarded = needed(trees, devices=(guard, closer))
            assert not {"closes-only-held", "nothing-else-closes"} & guarded
            assert "device-loss-stops-closing" in guarded
    assert "closes-only-held" in needed(trees), "what is not known excuses from nothing"
    assert "closes-only-held" in needed(trees, devices=("force-limit",)), "a drive's own force is no guard here"
    assert "closes-only-held" in needed(trees, devices=("loop-detector",)), "a loop sees vehicles only"


def test_contact_and_force_are_proved_where_they_guard(trees: Trees) -> None:
    for guard in ("photo-eye", "light-curtain"):
        by_beam = needed(trees, devices=(guard,), drive="trolley", construction="sectional")
        assert not {"reversal-at-object", "edge-reverses", "closing-force"} & by_beam
    edge = needed(trees, devices=("sensing-edge",), drive="trolley", construction="sectional")
    assert {"edge-reverses", "closing-force"} <= edge and "reversal-at-object" not in edge
    force = needed(trees, devices=("photo-eye", "force-limit"), drive="trolley", construction="sectional")
    assert {"reversal-at-object", "closing-force"} <= force


def test_the_force_has_three_parts(trees: Trees) -> None:
    """EN 12453; 1 lbf = 4.4482216 N."""
    said = trees.proofs["closing-force"].passes_when
    for pounds, newtons in re.findall(r"([\d.]+) lbf \((\d+) N\)", said):
        assert float(pounds) * 4.4482216 == pytest.approx(float(newtons), rel=0.02)
    assert re.findall(r"\((\d+) N\)", said) == ["400", "150", "25"] and "0.75 s" in said and "5 s" in said


def test_each_hazard_is_made_good_by_a_repair_and_shown_by_the_right_person(trees: Trees) -> None:
    seen = [proof for proof in trees.proofs.values() if proof.seen]
    assert len(seen) > 40
    assert all(proof.after for proof in seen), "a hazard is not made good by looking"
    weight = ("springs-look", "cables-look", "drum-marks", "shaft-coupling-marks", "bearing-looks", "rollers-look")
    for check in (*weight, "tracks-look", "hinges-look", "balance-by-hand-looks", "slack-lever-looks"):
        assert {proof.who for proof in _showing(trees, check)} == {"door technician"}
    assert {proof.who for proof in _showing(trees, "fire-release-looks")} == {"fire-door inspector"}
    assert {proof.who for proof in _showing(trees, "power-wire-looks")} == {"electrician"}


def _showing(trees: Trees, check: str) -> list[Proof]:
    return [proof for proof in trees.proofs.values() if check in proof.seen]


def test_no_answer_that_speaks_of_damage_is_forgotten(trees: Trees) -> None:
    called_for: dict[str, set[str]] = {}
    for proof in trees.proofs.values():
        for check, answers in proof.seen.items():
            called_for.setdefault(check, set()).update(answers)
    damage = {
        check.id: [a for a in check.answers if DAMAGE.search(a) and a not in called_for.get(check.id, ())]
        for check in trees.checks.values()
        if "network-module" not in check.applies.get("devices", ())
    }
    forgotten = {check: answers for check, answers in damage.items() if answers}
    assert set(forgotten) <= set(HARMLESS), {c: a for c, a in forgotten.items() if c not in HARMLESS}
    assert set(HARMLESS) <= set(forgotten), "excused for nothing"


@pytest.mark.parametrize(
    "remedy",
    [
        "replace-springs",
        "rebalance-door",
        "replace-cables",
        "rehang-cable",
        "reset-drum",
        "reset-shaft-coupling",
        "replace-shaft-bearing",
        "repair-door-body",
        "replace-track",
        "replace-rollers",
        "replace-drive-shaft",
    ],
)
def test_work_on_what_carries_the_door_ends_in_its_balance_by_hand_before_any_run(trees: Trees, remedy: str) -> None:
    assert "balance-by-hand" in trees.remedies[remedy].proofs
    order = list(trees.proofs)
    run = [proof.id for proof in trees.proofs.values() if trees.energy[proof.energy].powered == "yes"]
    assert all(order.index("balance-by-hand") < order.index(proof) for proof in run)


@pytest.mark.parametrize(
    "remedy",
    [
        "restore-lost-phase",
        "correct-supply-voltage",
        "heavier-supply-wire",
        "remake-supply-joint",
        "balance-supply",
        "replace-power-wire",
        "replace-breaker",
        "replace-contactor",
        "replace-motor",
        "relink-motor",
        "put-phases-back",
        "put-motor-leads-back",
        "mend-motor-lead",
        "replace-drive",
        "set-supply-tap",
        "replace-supply-fuse",
    ],
)
def test_work_on_three_phases_ends_in_the_right_way_round(trees: Trees, remedy: str) -> None:
    proofs = needed(trees, (remedy,), supply="three-phase", devices=("photo-eye",))
    assert proofs & {"lines-in-order", "runs-right-way"}


@pytest.mark.parametrize(
    ("remedy", "measured"),
    [
        ("heavier-eye-wire", "device-volts-hold"),
        ("separate-sensor-supply", "device-volts-hold"),
        ("access-point-nearer", "module-signal-good"),
        ("external-antenna", "module-signal-good"),
        ("tension-chain", "chain-sag-right"),
        ("replace-chain", "chain-sag-right"),
        ("straighten-track", "tracks-fast"),
        ("set-brake-gap", "brake-gap-right"),
        ("secure-sprocket", "drive-has-no-play"),
        ("refasten-header-bracket", "header-fast"),
        ("secure-operator", "operator-fast"),
        ("reset-gate-post", "gate-post-plumb"),
        ("replace-capacitor", "current-within-plate"),
        ("restore-lost-phase", "current-within-plate"),
        ("set-transformer-tap", "control-volts-right"),
        ("cut-new-loop", "loop-reads-right"),
        ("replace-charger", "battery-on-charge"),
        ("learn-fitted-devices", "settings-survive"),
        ("set-encoder-limits", "settings-survive"),
        ("replace-board", "settings-survive"),
    ],
)
def test_what_was_mended_is_measured_again(trees: Trees, remedy: str, measured: str) -> None:
    assert measured in trees.remedies[remedy].proofs


def test_every_source_of_energy_is_isolated_and_proved_dead_last(trees: Trees) -> None:
    for state in (trees.energy["off, locked and tagged"], trees.energy["door held"]):
        sources = state.sources
        doors = all_doors(trees, [source.applies for source in sources.values()])
        for door in range(0, doors.count, 7):
            facts = doors.facts(door)
            steps = isolation(state, facts)
            assert steps[-1] == sources["proved dead"].how
            assert (sources["backup battery"].how in steps) == ("battery-backup" in facts["devices"])
            assert (sources["hand chain"].how in steps) == ("hand-chain" in facts["devices"])
            moves_sideways = facts["construction"] in ("gate", "sliding", "side-folding")
            assert (sources["raised door"].how in steps) != moves_sideways
            assert (sources["sideways leaf"].how in steps) == (moves_sideways and facts["construction"] != "gate")
            assert sources["second feed"].how in steps
        assert len(isolation(state, {})) == len(sources), "what is not known excuses from nothing"


def test_no_device_is_said_to_guard_nobody_that_guards(trees: Trees) -> None:
    silent = {value for a in trees.assurances.values() if not a.proofs for value in a.applies["devices"]}
    assert not silent & {*GUARDS, "loop-detector", "warning-lamp", "interlock", "slack-cable-switch", "hand-chain"}
    assert "vehicle" in trees.assurances["vehicle-loop"].why
