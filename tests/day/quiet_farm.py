"""Many tanks over many days with deaths by chance, judged each day as the farm judges them."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

from rounds.day.fold.state import DeadAt
from rounds.day.lots.deaths import call_vet, judge_deaths
from rounds.site.model import Place

TANK = Place("T1", "Tank 1", "tank", 1, stage="grow-out")
START = datetime(2026, 1, 1, 8, tzinfo=UTC)
LEARNING = 20
"""Days before the first one that counts: the last 14 must be known."""
TANKS, DAYS = 24, 90


@dataclass
class Tank:
    """One tank, as far as the judgement of deaths looks at a farm."""

    chance: random.Random
    looked_at: float
    """Part of the days on which somebody counts."""
    found: list[DeadAt] = field(default_factory=list)
    unseen: int = 0
    site: Any = field(default_factory=lambda: SimpleNamespace(timezone=ZoneInfo("UTC")))
    stocks: dict[str, Any] = field(default_factory=dict)

    def dead(self, place: str, since: datetime) -> list[DeadAt]:
        return [one for one in self.found if one.at >= since]

    def answers(self, place: str, step: str, since: datetime) -> tuple[()]:
        return ()

    def day(self, number: int, deaths_a_day: float) -> tuple[bool, bool]:
        """Live a day; return whether its count was one to act on, and whether the vet is called."""
        now = START + timedelta(days=number)
        self.unseen += poisson(self.chance, deaths_a_day)
        if self.chance.random() >= self.looked_at:
            return False, False
        count, self.unseen = self.unseen, 0
        farm: Any = self
        judged = judge_deaths(farm, TANK, "L1", count, now)
        day = date.fromordinal(now.date().toordinal()).isoformat()
        self.found.append(DeadAt(str(number), "L1", "T1", now, day, count, "", "ana"))
        vet = bool(call_vet(farm, TANK, now))
        self.found = [one for one in self.found if now - one.at < timedelta(days=LEARNING)]
        return judged.verdict == "act", vet


def poisson(chance: random.Random, mean: float) -> int:
    """Return a count drawn by chance (Knuth's way)."""
    count, product, edge = 0, chance.random(), math.exp(-mean)
    while product >= edge:
        count, product = count + 1, product * chance.random()
    return count


def alarms(deaths_a_day: float, looked_at: float, farms: int, seed: int) -> tuple[float, float]:
    """Return alarms of both rules, and calls for the vet, of a farm in 90 days; quiet days end one.

    Days of alarm with fewer than two days between them are one alarm.
    """
    chance, both, vets = random.Random(seed), 0, 0
    for _ in range(farms * TANKS):
        tank = Tank(chance, looked_at)
        days = [tank.day(number, deaths_a_day) for number in range(LEARNING + DAYS)][LEARNING:]
        both += begun([act or vet for act, vet in days])
        vets += begun([vet for _, vet in days])
    return both / farms, vets / farms


def begun(days: list[bool]) -> int:
    """Return how many alarms begin in a row of days."""
    told = [number for number, alarm in enumerate(days) if alarm]
    return sum(n == 0 or number - told[n - 1] > 2 for n, number in enumerate(told))


def called_by(before: float, after: float, day: int, tanks: int, seed: int) -> float:
    """Return the part of tanks called by a day after their deaths rose, 1 the first of them."""
    chance, called = random.Random(seed), 0
    for _ in range(tanks):
        tank = Tank(chance, 1.0)
        for number in range(LEARNING):
            tank.day(number, before)
        called += any(any(tank.day(LEARNING + number, after)) for number in range(day))
    return called / tanks
