"""What proving a door takes after sixty ordinary repairs, two or so of each family, on four common doors.

Run: ``python benchmarks/proofs.py [earlier]``. Prints a line for each repair: minutes on proofs and on bringing the
door from state to state for them, how many proofs, and the repair. With ``earlier``, what another revision printed, it
ends with the median ratio to that, and names the repairs whose minutes have grown by more than a third. Each repair has
to close.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from diagnose.calls.call import Call
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import ANY, Facts, Trees, applies, power_state

DOORS: dict[str, Facts] = {
    "trolley": {
        "drive": "trolley",
        "construction": "sectional",
        "supply": "single-phase",
        "nominal-volts": "115 V",
        "fire-rated": "no",
        "counterbalance": "torsion-spring",
        "devices": ("photo-eye", "wall-station", "timer"),
    },
    "jackshaft": {
        "drive": "jackshaft",
        "construction": "sectional",
        "supply": "single-phase",
        "nominal-volts": "115 V",
        "fire-rated": "no",
        "counterbalance": "torsion-spring",
        "devices": ("photo-eye", "sensing-edge", "wall-station", "remote", "slack-cable-switch"),
    },
    "hoist": {
        "drive": "hoist",
        "construction": "rolling-steel",
        "supply": "three-phase",
        "nominal-volts": "460 V",
        "fire-rated": "no",
        "counterbalance": "barrel-spring",
        "devices": ("light-curtain", "wall-station", "hand-chain", "interlock", "warning-lamp"),
    },
    "gate": {
        "drive": "slide",
        "construction": "gate",
        "supply": "single-phase",
        "nominal-volts": "230 V",
        "fire-rated": "no",
        "counterbalance": "none",
        "devices": ("photo-eye", "sensing-edge", "loop-detector", "card-reader", "remote"),
    },
}
_COUNT = 60


def repairs(trees: Trees) -> list[tuple[str, str, str]]:
    """Complaint, remedy and door; of each family in turn a cause that was not there yet, drawn by a fixed seed."""
    chance, named, found = random.Random(_COUNT), set[str](), list[tuple[str, str, str]]()
    for family in list(trees.families) * 4:
        left = [each for each in _of_family(trees, family) if each[0] not in named]
        if left and len(found) < _COUNT:
            cause, *repair = chance.choice(left)
            named.add(cause)
            found.append((repair[0], repair[1], repair[2]))
    return found


def _of_family(trees: Trees, family: str) -> Iterator[tuple[str, str, str, str]]:
    for symptom in trees.symptoms.values():
        for cause in symptom.causes if symptom.family == family else ():
            for door, facts in DOORS.items():
                fit = (trees.remedies[each] for each in trees.causes[cause].remedies)
                remedy = next((each for each in fit if applies(each.applies, facts)), None)
                if remedy and applies(symptom.applies, facts) and applies(trees.causes[cause].applies, facts):
                    yield cause, symptom.id, remedy.id, door


def proving(trees: Trees, symptom: str, remedy: str, door: str) -> tuple[float, int]:
    """Minutes on proofs, changes of state among them, and how many there were, up to the closed call."""
    call = Call(trees, DOORS[door], [symptom], people=trees.people)
    _enter(call, trees.remedies[remedy].energy)
    call.tried(remedy, True)
    minutes, count = 0.0, 0
    while proofs := call.open_proofs():
        minutes += _enter(call, proofs[0].energy) + proofs[0].minutes
        call.proved(proofs[0].id, True)
        count += 1
    minutes += _enter(call, power_state(trees))
    call.close("returned to service")
    return minutes, count


def _enter(call: Call, energy: str) -> float:
    if energy in (ANY, call.energy):
        return 0.0
    minutes = call.trees.energy[energy].minutes_from(call.energy)
    call.enter(energy)
    return minutes


def main(earlier: str = "") -> None:
    trees, before, ratios = load_trees(), dict[str, float](), dict[str, float]()
    for line in Path(earlier).read_text(encoding="utf-8").splitlines() if earlier else ():
        minutes, _, name = line.split(maxsplit=2)
        before[name] = float(minutes)
    spent = []
    for symptom, remedy, door in repairs(trees):
        minutes, count = proving(trees, symptom, remedy, door)
        name = f"{remedy} / {symptom} / {door}"
        spent.append(minutes)
        print(f"{minutes:5.0f} {count:3d} {name}")
        if name in before:
            ratios[name] = minutes / before[name]
    print(f"{median(spent):5.0f}   - the median of {len(spent)}")
    if ratios:
        print(f"median ratio {median(ratios.values()):.2f} of {len(ratios)}; grown by more than a third:")
        print("\n".join(f"  {name}: {ratio:.2f}" for name, ratio in ratios.items() if ratio > 4 / 3) or "  none")


if __name__ == "__main__":
    main(*sys.argv[1:2])
