"""How long an answer takes to re-rank the causes and find the next step, beside one bare pass over the same numbers.

Run: ``python benchmarks/answer.py [calls]``. Bars: at most 5 ms median for the first suggestion, at most 100 ms at the
95th percentile for the planned one.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from diagnose import Call, load_trees
from diagnose.practice.simulated import SimulatedCall, draw_door


def main(calls: int = 146) -> None:
    trees = load_trees()
    symptoms = list(trees.symptoms)
    quick, planned, bare = [], [], []
    for number in range(calls):
        symptom = symptoms[number % len(symptoms)]
        draw = draw_door(trees, np.random.default_rng(number), symptom)
        simulated = SimulatedCall(trees, draw, number)
        call = Call(trees, draw.facts, [symptom], people=trees.people)
        step = call.next_step(quick=True)
        for _ in range(8):
            if step.kind == "energy":
                call.enter(step.id)
                step = call.next_step(quick=True)
                continue
            if step.kind != "check":
                break
            text = simulated.door.typed(trees.checks[step.id])
            start = time.perf_counter()
            call.answer(step.id, text)
            call.likely()
            step = call.next_step(quick=True)
            quick.append(time.perf_counter() - start)
            bare.append(_bare_pass(call))
            start = time.perf_counter()
            call.next_step()
            planned.append(time.perf_counter() - start)
    for name, times in (("first suggestion", quick), ("planned step", planned), ("bare numpy pass", bare)):
        milliseconds = 1000 * np.array(times)
        low, middle, high = np.percentile(milliseconds, [5, 50, 95])
        print(f"{name:17s} median {middle:8.3f} ms   5–95 %: {low:.3f} – {high:.3f} ms   n = {len(times)}")
    print(f"first suggestion / bare pass, medians: {np.median(quick) / np.median(bare):.1f}")


def _bare_pass(call: Call) -> float:
    """Prior times every answered row, and every table's expected information: the numbers alone, nothing around."""
    situation = call.situation
    rows = [finding.likelihood for finding in call.inference.findings]
    tables = [table.likelihood for table in situation.tables.values()]
    stacked = np.concatenate(tables)
    start = time.perf_counter()
    weights = situation.prior * np.prod(rows, axis=0) if rows else situation.prior
    belief = weights / weights.sum()
    marginal = stacked @ belief
    (stacked * belief * np.log2(stacked / marginal[:, None])).sum()
    return time.perf_counter() - start


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:2]))
