"""How planning grows with the knowledge: random packs beside one bare numpy pass, and beside exact elimination.

Run: ``python benchmarks/scale.py [steps]``. Each pack is drawn with a fixed seed and asked through ``Call``; the truth
is one of its causes. A step is ``answer()`` and ``next_step()``; times are of the processor, so that other work running
does not count. The bare pass is the belief and the information of all checks over dense arrays of the same model.

Bars: 120 suspects at most 100 ms at the 95th percentile; 1,000 × 2,000 with one complaint that names all a median of at
most 20 bare passes, and never above 1 s; from 300 to 1,000 causes at most ×15; at most 300 MB; at least 1,000 times as
fast as pgmpy's variable elimination asked the same on the shipped trees.
"""

from __future__ import annotations

import json
import math
import os
import resource
import subprocess
import sys
import tempfile
import time
import warnings
from pathlib import Path

import numpy as np

from diagnose import Call, load_trees
from diagnose.practice.simulated import SimulatedCall, draw_door
from diagnose.reasoning.situation import Array

SEED = 20260801
# Causes, checks, suspects of the complaint asked about (0: one complaint names all), signs of a cause.
SIZES = (
    (100, 200, 0, 12),
    (300, 600, 0, 12),
    (1000, 2000, 0, 12),
    (3000, 6000, 0, 12),
    (1000, 2000, 25, 12),
    (1000, 2000, 60, 12),
    (1000, 2000, 120, 12),
    (120, 240, 0, 120),
)


def main(steps: int = 12) -> None:
    rows = [measured(*size, steps) for size in SIZES]
    columns = ("causes × checks", "suspects", "signs", "load cold, warm", "first", "step: median, 95th, most")
    print(f"| {' | '.join((*columns, 'bare pass', 'ratio', 'MB'))} |")
    print("|---|---|---|---|---|---|---|---|---|")
    for r in rows:
        print(
            f"| {r['causes']:,} × {r['checks']:,} | {r['suspects']:,} | {r['signs']} "
            f"| {r['cold']:.2f}, {r['warm']:.2f} s | {r['first']:.0f} ms "
            f"| {r['median']:.1f}, {r['high']:.1f}, {r['most']:.0f} ms | {r['bare']:.2f} ms "
            f"| {r['median'] / r['bare']:.1f} | {r['megabytes']:.0f} |"
        )
    whole = [r for r in rows if r["suspects"] == r["causes"] and r["signs"] == 12]
    print()
    print(log_plot([(r["causes"], r["median"], r["bare"]) for r in whole]))
    grown = {int(r["causes"]): r["median"] for r in whole}
    print(f"\nfrom 300 to 1,000 causes: × {grown[1000] / grown[300]:.1f}")
    ours, exact = beside_elimination()
    print(f"shipped trees: ours {1000 * ours:.2f} ms, elimination {1000 * exact:.0f} ms: × {exact / ours:,.0f}")


def measured(causes: int, checks: int, suspects: int, signs: int, steps: int) -> dict[str, float]:
    """One size in a process of its own, so that its memory is its own."""
    arguments = json.dumps([causes, checks, suspects, signs, steps])
    run = subprocess.run([sys.executable, __file__, "--one", arguments], capture_output=True, text=True, check=True)
    print(run.stderr, end="", file=sys.stderr)
    found: dict[str, float] = json.loads(run.stdout)
    return found


def one(causes: int, checks: int, suspects: int, signs: int, steps: int) -> dict[str, float]:
    random = np.random.default_rng([SEED, causes, suspects])
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as cache:
        os.environ["DIAGNOSE_CACHE"] = cache
        (Path(folder) / "pack.yaml").write_text(random_pack(random, causes, checks, suspects, signs))
        start = time.process_time()
        load_trees(folder)
        cold = time.process_time() - start
        # Memory is that of a program that finds the pack compiled, as each start but the first does.
        again = subprocess.run(
            [sys.executable, __file__, "--warm", json.dumps([folder, suspects, steps])],
            capture_output=True,
            text=True,
            check=True,
        )
    found: dict[str, float] = json.loads(again.stdout)
    return {"causes": causes, "checks": checks, "suspects": suspects or causes, "signs": signs, "cold": cold, **found}


def warm(folder: str, suspects: int, steps: int) -> dict[str, float]:
    random = np.random.default_rng(SEED)
    start = time.process_time()
    trees = load_trees(folder)
    loaded = time.process_time() - start
    times: list[float] = []
    firsts: list[float] = []
    call = None
    for _ in range(steps):
        if len(times) >= 4 * steps:
            break
        start = time.process_time()
        call = Call(trees, symptoms=["few" if suspects else "all"])
        step = call.next_step()
        firsts.append(time.process_time() - start)
        truth = str(random.choice(call.situation.causes[:-1]))
        for _ in range(8):
            if step.kind == "remedy":
                worked = trees.causes[truth].remedies.get(step.id, 0.0) > 0.5
                call.tried(step.id, worked)
                if worked:
                    break
                step = call.next_step()
            elif step.kind == "check":
                shares = trees.causes[truth].signs.get(step.id, trees.checks[step.id].healthy).shares
                answer = str(random.choice(list(shares), p=list(shares.values())))
                start = time.process_time()
                call.answer(step.id, answer)
                step = call.next_step()
                times.append(time.process_time() - start)
            else:
                break
    assert call is not None
    # Before the bare pass, which holds dense arrays.
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {
        "warm": loaded,
        "first": 1000 * firsts[0],
        "median": 1000 * float(np.median(times)),
        "high": 1000 * float(np.percentile(times, 95)),
        "most": 1000 * max(times),
        "bare": 1000 * bare_pass(call),
        "megabytes": peak,
    }


def bare_pass(call: Call) -> float:
    """Prior times each answered row, and the expected information of every check: dense arrays, nothing around."""
    situation = call.situation
    rows = [finding.likelihood for finding in call.inference.findings]
    stacked = np.concatenate([table.likelihood for table in situation.tables.values()])
    times = []
    for _ in range(5):
        start = time.process_time()
        weights = situation.prior * np.prod(rows, axis=0) if rows else situation.prior
        belief = weights / weights.sum()
        marginal = stacked @ belief
        (stacked * belief * np.log2(stacked / marginal[:, None])).sum()
        times.append(time.process_time() - start)
    return float(np.median(times))


def random_pack(random: np.random.Generator, causes: int, checks: int, suspects: int, signs: int) -> str:
    """A pack as text: yes-or-no checks, each cause with its own remedy and ``signs`` checks that it changes."""
    lines = [
        "source: estimate",
        "people: {technician: {title: technician}}",
        "energy: {any: {title: any, powered: no}}",
        "access: {floor: {title: here, minutes: 0}}",
        # Nobody is called: each call is asked to its end.
        "costs: {hand-over: 1000000}",
        "checks:",
    ]
    for check in range(checks):
        usual, minutes = random.uniform(0.8, 0.99), random.uniform(1, 12)
        lines.append(
            f"  k{check}: {{ask: Check {check}?, answers: [fine, odd], healthy: {{fine: {usual:.3f}}}, "
            f"minutes: {minutes:.1f}, energy: any}}"
        )
    lines.append("remedies:")
    for cause, minutes in enumerate(np.exp(random.uniform(np.log(5), np.log(200), causes))):
        lines.append(f"  r{cause}: {{title: Remedy {cause}, minutes: {minutes:.0f}, energy: any}}")
    lines.append("causes:")
    for cause in range(causes):
        chosen = sorted(random.choice(checks, min(signs, checks), replace=False))
        shown = ", ".join(f"k{check}: {{odd: {random.uniform(0.3, 0.98):.3f}}}" for check in chosen)
        rate = random.uniform(0.2, 5.0)
        lines.append(
            f"  c{cause}: {{title: Cause {cause}, base: {rate:.3f} per 1000 calls, signs: {{{shown}}}, "
            f"remedies: [r{cause}]}}"
        )
    lines.append("symptoms:")
    for name, few in (("all", causes), ("few", suspects)):
        if few:
            named = sorted(random.choice(causes, few, replace=False))
            said = ", ".join(f"c{cause}: {random.uniform(0.2, 0.95):.3f}" for cause in named)
            lines.append(f"  {name}: {{title: It fails, caller: It fails., ask-first: [k0], causes: {{{said}}}}}")
    return "\n".join(lines) + "\n"


def beside_elimination(calls: int = 12) -> tuple[float, float]:
    """Medians of seconds, by ``Call`` and by pgmpy on the same model, for what a next question takes: after three
    answers, the ranking of the causes and how each check that is left goes with them."""
    trees = load_trees()
    ours, exact = [], []
    for number, symptom in enumerate(list(trees.symptoms)[:calls]):
        draw = draw_door(trees, np.random.default_rng(number), symptom)
        simulated = SimulatedCall(trees, draw, number)
        call = Call(trees, draw.facts, [symptom], people=trees.people)
        questions = [c.way.goal for c in call.planner.candidates if trees.checks[c.way.goal].kind == "question"][:3]
        for check in questions:
            call.answer(check, simulated.door.typed(trees.checks[check]))
        shown = {f.check.id: f.row for f in call.inference.findings if f.row is not None}
        exact.append(elimination(call, shown, [candidate.way.goal for candidate in call.planner.candidates]))
        fresh = Call(trees, history=call.events)
        start = time.process_time()
        _ = fresh.inference.belief, fresh.planner._bits
        ours.append(time.process_time() - start)
    return float(np.median(ours)), float(np.median(exact))


def elimination(call: Call, shown: dict[str, int], left: list[str]) -> float:
    """P(cause | answers), and P(cause, check | answers) of each check that is left."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

        situation = call.situation
        network = DiscreteBayesianNetwork([("cause", check) for check in situation.tables])
        network.add_cpds(TabularCPD("cause", situation.count, situation.prior[:, None].tolist()))
        for check, table in situation.tables.items():
            columns: Array = table.likelihood / table.likelihood.sum(axis=0)
            network.add_cpds(TabularCPD(check, len(table.answers), columns.tolist(), ["cause"], [situation.count]))
        start = time.process_time()
        exact = VariableElimination(network)
        exact.query(["cause"], evidence=shown, show_progress=False)
        for check in set(left) - set(shown):
            exact.query(["cause", check], evidence=shown, show_progress=False)
        return time.process_time() - start


def log_plot(points: list[tuple[float, float, float]], width: int = 60, height: int = 16) -> str:
    """Milliseconds against causes, both on log scales: ``o`` a step, ``.`` the bare pass."""
    xs = [math.log10(causes) for causes, _, _ in points]
    values = [math.log10(v) for _, *both in points for v in both]
    low, high = math.floor(min(values)), math.ceil(max(values))
    grid = [[" "] * (width + 1) for _ in range(height + 1)]
    for x, (_, step, bare) in zip(xs, points, strict=True):
        column = round((x - xs[0]) / (xs[-1] - xs[0]) * width)
        for mark, value in ((".", bare), ("o", step)):
            grid[round((high - math.log10(value)) / (high - low) * height)][column] = mark
    lines = []
    for row, cells in enumerate(grid):
        level = high - row / height * (high - low)
        label = f"{10 ** round(level):>8g} ms" if abs(level - round(level)) < 0.5 / height * (high - low) else " " * 11
        lines.append(f"{label} |{''.join(cells)}".rstrip())
    places = [round((x - xs[0]) / (xs[-1] - xs[0]) * width) for x in xs]
    axis = [" "] * (width + 8)
    for place, (causes, _, _) in zip(places, points, strict=True):
        for offset, letter in enumerate(f"{causes:,.0f}"):
            axis[place + offset] = letter
    return "\n".join([*lines, f"{'':11} +{'-' * (width + 1)}", f"{'causes':>11}  {''.join(axis).rstrip()}"])


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        print(json.dumps(one(*json.loads(sys.argv[2]))))
    elif sys.argv[1:2] == ["--warm"]:
        print(json.dumps(warm(*json.loads(sys.argv[2]))))
    else:
        main(*(int(argument) for argument in sys.argv[1:2]))
