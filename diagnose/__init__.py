"""Field diagnosis for motorised commercial doors.

``load_trees`` reads what the trade knows; ``Call`` is one job on one door, ``Sitting`` the course of it for a face. All
are imported when first asked for, so that ``import diagnose`` costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from diagnose.calls.call import Call
    from diagnose.knowledge.load import load_trees
    from diagnose.knowledge.problems import TreeError
    from diagnose.sitting.sitting import Sitting

__all__ = ["Call", "Sitting", "TreeError", "load_trees"]
__version__ = "0.1.0"

_HOMES = {
    "Call": "diagnose.calls.call",
    "Sitting": "diagnose.sitting.sitting",
    "TreeError": "diagnose.knowledge.problems",
    "load_trees": "diagnose.knowledge.load",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'diagnose' has no attribute '{name}'")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
