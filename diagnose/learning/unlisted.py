"""Calls whose cause is in no tree, gathered by likeness, and what an entry for each lot of them would begin with.

Two calls are alike by the angle between what was complained of, what was found that a sound door seldom shows, and the
words that were written, each term counting the more the fewer calls have it. A lot is whoever is alike to one of it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from textwrap import shorten

from diagnose.calls import events as ev
from diagnose.calls.state import fold
from diagnose.finding.reading import trade_reader
from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.model import Trees

# Calls are alike from this cosine on, and so many make a lot: estimates.
_ALIKE, _LOT = 0.3, 3
# A sound door shows an answer seldom where it does so less often than this.
_SELDOM = 0.5
# What a term of a complaint begins with, as no word does.
_COMPLAINT = "complaint: "
# So many calls of a lot are named.
_TOLD = 8
# What an entry begins with at most: letters of its title, calls in a thousand (an estimate).
_TITLE, _MOST_SHARE = 60, 50.0


@dataclass(frozen=True)
class Untold:
    """One call that was closed as *cause not listed*: which door, its complaint, what was found, what was written."""

    call_id: str
    door: str
    complaint: str
    found: Mapping[str, str]
    words: str
    reason: str = ""


@dataclass(frozen=True)
class Lot:
    """Calls alike. ``found`` has for each check the answer that most of them share, and how many do."""

    calls: tuple[Untold, ...]
    complaint: str
    found: Mapping[str, tuple[str, int]]
    words: str
    of_calls: int

    def told(self) -> list[str]:
        """A line for each call that it was gathered from, the first of them: its name, its door, what was written."""
        lines = [
            ", ".join(filter(None, (call.call_id, call.door))) + f": {call.words or call.reason or '—'}"
            for call in self.calls[:_TOLD]
        ]
        more = len(self.calls) - len(lines)
        return [*lines, f"… and {more} more"] if more else lines

    def skeleton(self, trees: Trees, identity: str = "new-cause") -> str:
        """An entry that the trees can hold as it stands, as YAML; its numbers are this lot's shares."""
        share = min(1000 * len(self.calls) / max(self.of_calls, 1), _MOST_SHARE)
        beside = trees.symptoms[self.complaint].causes if self.complaint else trees.causes
        systems = Counter(system for cause in beside for system in trees.causes[cause].system)
        signs = [
            f"      {check}: {{{_quoted(answer)}: {min(count / len(self.calls), 0.95):.2f}}}"
            for check, (answer, count) in self.found.items()
        ]
        lines = [
            f"  {identity}:",
            f"    title: {_quoted(shorten(self.words or identity, _TITLE, placeholder='…'))}",
            *(f"    system: {system}" for system, _ in systems.most_common(1)),
            f"    base: {max(share, 0.1):.3g} per 1000 calls",
            *([f"    symptoms: {{{self.complaint}: probable}}"] if self.complaint else []),
            *(["    signs:", *signs] if signs else []),
            "    # remedies: [REMEDY]  # what removes it",
        ]
        return "\n".join(lines)


def untold(trees: Trees, call_id: str, events: Sequence[ev.AnyEvent]) -> Untold:
    """What a call says of a cause that nobody has written."""
    state = fold(events)
    found = {
        check: answer.value
        for check, answer in state.answers.items()
        if isinstance(answer.value, str) and _telling(trees, check, answer.value)
    }
    words = " ".join(text for _, text in state.notes)
    door = " ".join(filter(None, (state.site, state.door)))
    return Untold(
        call_id, door, next((s for s in state.symptoms if s in trees.symptoms), ""), found, words, state.reason
    )


def gathered(trees: Trees, calls: Sequence[Untold], of_calls: int) -> list[Lot]:
    """Lots of three calls or more, the largest first; ``of_calls`` is how many were closed in all."""
    reader = trade_reader(trees)
    terms = [_terms(call, reader.terms(reader.stems(call.words))) for call in calls]
    having = Counter(term for each in terms for term in each)
    weighed = [_unit({t: math.log(1 + len(calls) / having[t]) for t in each if having[t] > 1}) for each in terms]
    lots = [_lot([calls[i] for i in group], of_calls) for group in _groups(weighed) if len(group) >= _LOT]
    return sorted(lots, key=lambda lot: (-len(lot.calls), lot.calls[0].call_id))


def _telling(trees: Trees, check: str, answer: str) -> bool:
    entry = trees.checks.get(check)
    return entry is not None and isinstance(entry.healthy, Shares) and entry.healthy.shares.get(answer, 1.0) < _SELDOM


def _terms(call: Untold, words: set[str]) -> set[str]:
    found = {f"{check}: {answer}" for check, answer in call.found.items()}
    return words | found | ({f"{_COMPLAINT}{call.complaint}"} if call.complaint else set())


def _unit(weights: Mapping[str, float]) -> dict[str, float]:
    size = math.sqrt(sum(each * each for each in weights.values()))
    return {term: each / size for term, each in weights.items()} if size else {}


def _groups(weighed: Sequence[Mapping[str, float]]) -> list[list[int]]:
    import networkx as nx

    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(weighed)))
    having: dict[str, list[int]] = {}
    for number, each in enumerate(weighed):
        for term in each:
            having.setdefault(term, []).append(number)
    for number, each in enumerate(weighed):
        # What is complained of alone makes no two calls alike: every cause of it does so.
        shared = (term for term in each if not term.startswith(_COMPLAINT))
        near = {other for term in shared for other in having[term] if other > number}
        graph.add_edges_from(
            (number, n) for n in near if sum(w * weighed[n].get(t, 0) for t, w in each.items()) >= _ALIKE
        )
    return [sorted(group) for group in nx.connected_components(graph)]


def _lot(calls: Sequence[Untold], of_calls: int) -> Lot:
    complaint = Counter(call.complaint for call in calls if call.complaint).most_common(1)
    answers = Counter((check, answer) for call in calls for check, answer in call.found.items())
    found = {check: (answer, n) for (check, answer), n in answers.most_common() if 2 * n >= len(calls)}
    words = min((call.words for call in calls if call.words), key=len, default="")
    return Lot(tuple(calls), complaint[0][0] if complaint else "", found, words, of_calls)


def _quoted(text: str) -> str:
    return "'" + " ".join(text.split()).replace("'", "''") + "'"
