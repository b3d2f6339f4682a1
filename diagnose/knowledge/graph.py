"""The decision graph: symptoms, checks, causes, remedies and proofs, and what ties them together.

A node is ``(kind, id)`` with its ``title``; an edge has ``says``, one of ``TIES``, and the ``answers`` it hangs on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from diagnose.knowledge.model import Cause, Check, Trees, all_from

if TYPE_CHECKING:
    import networkx

Node = tuple[str, str]

# What an edge says, in the order of a legend.
TIES = {
    "asks first": "the walk may begin with it",
    "raises": "the complaint points at the cause",
    "bears on": "its answers change how likely the cause is",
    "opens": "an answer opens it",
    "closes": "an answer closes it",
    "before": "comes before it",
    "feeds": "is computed from it",
    "removed by": "the remedy removes the cause",
    "proved by": "the proof tries the remedy",
    "lacks": "the complaint lacks the function",
    "needed by": "nothing of it works without",
    "takes": "the cause takes the function away",
}
# Columns from left to right. Functions stand in the picture of a chain alone.
KINDS = ("symptoms", "functions", "checks", "causes", "remedies", "proofs")
# So many causes of a function are drawn; the rest is counted.
_COMMONEST = 2
_WALKED = tuple(kind for kind in KINDS if kind != "functions")


def decision_graph(trees: Trees) -> networkx.MultiDiGraph:
    """The whole graph."""
    import networkx

    graph = networkx.MultiDiGraph()
    for kind in _WALKED:
        for identity, entry in getattr(trees, kind).items():
            graph.add_node((kind, identity), title=entry.text if isinstance(entry, Check) else entry.title)
    for start, end, says, answers in _ties(trees):
        graph.add_edge(start, end, says=says, answers=answers)
    return graph


def part_for(trees: Trees, symptoms: Iterable[str]) -> networkx.MultiDiGraph:
    """What is walked for these symptoms: their causes, every check on the way to those, and the repairs."""
    named = set(symptoms)
    return _part(trees, named, {cause for symptom in named for cause in trees.symptoms[symptom].causes})


def part_for_cause(trees: Trees, cause: str) -> networkx.MultiDiGraph:
    """A cause with the symptoms that raise it, its checks, and its repairs."""
    return _part(trees, {symptom.id for symptom in trees.symptoms.values() if cause in symptom.causes}, {cause})


def overview(trees: Trees) -> networkx.MultiDiGraph:
    """Every symptom, and the causes it raises."""
    graph = decision_graph(trees)
    graph.remove_nodes_from([node for node in graph if node[0] not in ("symptoms", "causes")])
    return graph


def _part(trees: Trees, symptoms: set[str], causes: set[str]) -> networkx.MultiDiGraph:
    checks = {step for cause in causes for check in trees.causes[cause].signs for step in chain(trees, check)}
    remedies = {remedy for cause in causes for remedy in trees.causes[cause].remedies}
    proofs = {proof for remedy in remedies for proof in trees.remedies[remedy].proofs}
    kept = {"symptoms": symptoms, "checks": checks, "causes": causes, "remedies": remedies, "proofs": proofs}
    graph = decision_graph(trees)
    graph.remove_nodes_from([node for node in graph if node[1] not in kept[node[0]]])
    return graph


def chain_part(trees: Trees, symptom: str) -> networkx.MultiDiGraph:
    """The functions that a complaint lacks and all that they need, in order, with the causes that take them."""
    import networkx

    from diagnose.knowledge.functions import chain_of, chain_order

    graph, functions = networkx.MultiDiGraph(), chain_of(trees)
    order = chain_order(trees, functions, [symptom])
    graph.add_node(("symptoms", symptom), title=trees.symptoms[symptom].title)
    for name in order:
        graph.add_node(("functions", name), title=trees.functions[name].title)
    for name in order:
        if name in trees.symptoms[symptom].lacks:
            graph.add_edge(("symptoms", symptom), ("functions", name), says="lacks", answers=())
        for needed in trees.functions[name].needs:
            if needed in order:
                graph.add_edge(("functions", needed), ("functions", name), says="needed by", answers=())
    suspected = {*trees.symptoms[symptom].causes, *functions.implied(trees.causes.values(), trees.symptoms[symptom])}
    at: dict[str, list[Cause]] = {name: [] for name in order}
    for cause in sorted((trees.causes[name] for name in suspected), key=lambda cause: (-cause.base, cause.id)):
        place = functions.place(order, cause)
        if place is not None:
            at[place].append(cause)
    for name, causes in at.items():
        shown = {("causes", cause.id): cause.title for cause in causes[:_COMMONEST]}
        if len(causes) > _COMMONEST:
            shown["causes", f"more of {name}"] = f"and {len(causes) - _COMMONEST} rarer"
        for node, title in shown.items():
            graph.add_node(node, title=title)
            graph.add_edge(node, ("functions", name), says="takes", answers=())
    return graph


def chain(trees: Trees, check: str) -> list[str]:
    """A check, what it is computed from and what comes before it, and so on."""

    def before(name: str) -> tuple[str, ...]:
        return (*trees.checks[name].sources, *trees.checks[name].after) if name in trees.checks else ()

    return [name for name in all_from([check], before) if name in trees.checks]


def _ties(trees: Trees) -> Iterator[tuple[Node, Node, str, tuple[str, ...]]]:
    for symptom in trees.symptoms.values():
        here = ("symptoms", symptom.id)
        yield from ((here, ("checks", check), "asks first", ()) for check in symptom.ask_first)
        yield from ((here, ("causes", cause), "raises", ()) for cause in symptom.causes)
    for check in trees.checks.values():
        here = ("checks", check.id)
        for says, led in (("opens", check.opens), ("closes", check.closes)):
            for other in dict.fromkeys(name for names in led.values() for name in names):
                yield here, ("checks", other), says, tuple(answer for answer, names in led.items() if other in names)
        yield from ((("checks", first), here, "before", allowed) for first, allowed in check.after.items())
        sources = dict.fromkeys([*check.inputs.values(), check.measured])
        yield from ((("checks", source), here, "feeds", ()) for source in sources if source in trees.checks)
    for cause in trees.causes.values():
        here = ("causes", cause.id)
        yield from ((("checks", check), here, "bears on", ()) for check in cause.signs)
        yield from ((here, ("remedies", remedy), "removed by", ()) for remedy in cause.remedies)
    for remedy in trees.remedies.values():
        yield from ((("remedies", remedy.id), ("proofs", proof), "proved by", ()) for proof in remedy.proofs)
