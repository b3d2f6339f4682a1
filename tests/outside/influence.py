"""Solve repair orders as influence diagrams with pyAgrum, in a process of its own.

pyAgrum's compiled module does not survive the warnings-are-errors of the test run. Reads a JSON list of
``{probability, costs, yes}`` from standard input and prints the list of maximum expected utilities.
"""

from __future__ import annotations

import itertools
import json
import sys
from collections.abc import Sequence


def best_value(probability: Sequence[float], costs: Sequence[float], yes: Sequence[float] | None) -> float:
    """The decision is the whole order of remedies; ``yes`` is P(the answer seen first is yes | cause)."""
    import pyagrum as gum

    count = len(probability)
    orders = list(itertools.permutations(range(count)))
    diagram = gum.InfluenceDiagram()
    cause = diagram.addChanceNode(gum.RangeVariable("cause", "", 0, count - 1))
    order = diagram.addDecisionNode(gum.RangeVariable("order", "", 0, len(orders) - 1))
    cost = diagram.addUtilityNode(gum.LabelizedVariable("cost", "", 1))
    diagram.addArc(cause, cost)
    diagram.addArc(order, cost)
    diagram.cpt(cause).fillWith(list(probability))
    if yes is not None:
        answer = diagram.addChanceNode(gum.RangeVariable("answer", "", 0, 1))
        diagram.addArc(cause, answer)
        diagram.addArc(answer, order)
        for k in range(count):
            diagram.cpt(answer)[{"cause": k}] = [1 - yes[k], yes[k]]
    for k in range(count):
        for index, tried in enumerate(orders):
            spent = sum(costs[i] for i in tried[: tried.index(k) + 1])
            diagram.utility(cost)[{"cause": k, "order": index}] = -float(spent)
    inference = gum.ShaferShenoyLIMIDInference(diagram)
    inference.makeInference()
    return float(inference.MEU()["mean"])


if __name__ == "__main__":
    print(json.dumps([best_value(**problem) for problem in json.load(sys.stdin)]))
