"""The hidden door of a practice: what was found in it stays so, until something that it hangs on changes."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.practice.hidden_door import HiddenDoor
from diagnose.reasoning.walk import Known, inputs_of


@dataclass
class PracticeDoor(HiddenDoor):
    """A hidden door that keeps, when something in it changes, all that this did not touch.

    ``lasting`` truths fixed by hand hold on a sound door too: of a walk they are the door's own figures.
    """

    lasting: bool = False

    def _is_fixed(self, check: str) -> bool:
        return check in self.findings if self.lasting else super()._is_fixed(check)

    def try_remedy(self, remedy: str) -> bool:
        before, faults = dict(self._truth), set(self.faults)
        worked = super().try_remedy(remedy)
        if worked:
            self._keep(before, faults - self.faults)
        return worked

    def bring(self, fault: str) -> None:
        before = dict(self._truth)
        super().bring(fault)
        self._keep(before, {fault})

    def _keep(self, before: dict[str, Known], changed: set[str]) -> None:
        touched = {check for fault in changed for check in self._signs(fault)}
        for name in tuple(touched):
            touched.update(inputs_of(self.trees, self.trees.checks[name]))
        self.findings = {check: text for check, text in self.findings.items() if check not in touched}
        self._truth.update({check: truth for check, truth in before.items() if check not in touched})
