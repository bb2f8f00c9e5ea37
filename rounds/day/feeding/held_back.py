"""What is found to stop or reduce a meal in a place, gathered rule by rule."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct, field

from rounds.fish import conditions as rules
from rounds.fish.conditions import Multiplier
from rounds.reason import Reason


class Conditions(Struct):
    """The state of a place's water and fish as a meal sees it.

    `stop` says why nothing may be fed; empty when nothing forbids it. `missing` names what to
    measure before a ration may rise above yesterday's.
    """

    stop: str = ""
    oxygen_read: bool = False
    """Oxygen was read, not too long ago for a meal."""
    temperature_c: float | None = None
    """Mean of the last days' minima and maxima; None when too little was read."""
    multipliers: list[Multiplier] = field(default_factory=list)
    doubt: str = ""
    """What is asked before a meal is kept: a second Enter, or --confirm, and a reason."""
    missing: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)

    @property
    def smallest(self) -> Multiplier:
        """The multiplier that governs."""
        return rules.smallest(self.multipliers)

    def add(self, rule: Callable[[], Multiplier]) -> None:
        """Apply a rule; a value outside its range is named as something to measure again."""
        try:
            found = rule()
        except ValueError as error:
            self.missing.append(f"{error}: measure it again")
            return
        self.multipliers.append(found)
        self.reasons.append(found.reason)
        if found.factor == 0 and not self.stop:
            self.stop = found.reason.says.format(**found.reason.values)

    def act(self, says: str) -> None:
        """Stop feeding; the first reason found is the one told."""
        self.stop = self.stop or says
