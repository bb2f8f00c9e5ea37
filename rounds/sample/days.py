"""What invented people do with a day: rounds, meals, tests, doses, hand-offs, in order of time."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import partial
from itertools import count
from random import Random
from typing import Final

from msgspec.structs import replace

from rounds.day.feeding import rations
from rounds.day.fold.farm import Farm, fold
from rounds.day.fold.placing import DEAD_STEP
from rounds.day.fold.state import HandoffAt
from rounds.day.loops import doses
from rounds.day.readings.calibration import calibrated
from rounds.day.telling import handoff
from rounds.day.verdict import judge
from rounds.day.walking import plan
from rounds.records.entry import (
    Answer,
    Died,
    Entry,
    Exchanged,
    Matter,
    Note,
    Reading,
    Skipped,
    Stocked,
    Walk,
    Weighed,
)
from rounds.reports import handoff as paper
from rounds.sample.diary import E, Laptop
from rounds.sample.happening import happened
from rounds.sample.planted import Appetite
from rounds.sample.story import Event, Lot, Shift, Story
from rounds.sample.world import World
from rounds.site.model import Checklist, Place, Step
from rounds.site.rhythm import due_on, window
from rounds.text import MAX_TEXT, clean

FEEDING: Final = timedelta(hours=10, minutes=50)
"""From the first meal to the last of a tank fed often."""
FIRST_DAY_G_KG: Final = 15.0
"""What is fed on the day the book begins: nothing is advised yet, as nothing was read before."""
MISTAKEN_G_KG: Final = 5.0
MISTAKEN: Final = "given as yesterday, the sheet was not looked at"
AGREED: Final = "supervisor said so"
BEFORE: Final = "first day of the book: as before"
SECONDS_A_STEP: Final = (12.0, 32.0)
NETS: Final = (22, 28)
"""Fish in a net when they are weighed."""
SPREAD: Final = 0.18
"""Of single weights, standard deviation over mean."""


class Days:
    """Runs the story day by day and writes down what people would have written."""

    def __init__(
        self,
        story: Story,
        laptops: tuple[Laptop, ...],
        world: World,
        chance: Random,
        first: date,
        last: date,
    ) -> None:
        self.site, self.story, self.laptops, self.world = world.site, story, laptops, world
        self.chance, self._first, self.last = chance, first, last
        self.entries: list[Entry] = []
        self._due: list[tuple[datetime, int, Callable[[], None]]] = []
        self._order = count()
        self._shift: Shift = story.shifts[0]
        self._coming = list(story.lots)
        """Lots that are not in the book yet."""
        self._dead: dict[str, int] = {}
        """Dead that nobody has found yet, by place."""
        self._left: dict[str, float] = {}
        """Part of the last meal left, by place."""
        self._matters: dict[str, str] = {}
        self._handed: tuple[HandoffAt, list[str]] | None = None
        """The last hand-off and the matters open then."""

    # -- the clock -------------------------------------------------------------------------------

    def run(self, day: date) -> None:
        """Live through one day."""
        self.world.new_day()
        for shift in self.story.shifts:
            self._at(day, shift.begins, partial(self._begin, shift))
            self._at(day, shift.ends, partial(self._hand_off, shift))
        self._nature_takes(day)
        for checklist in self.site.checklists.values():
            if due_on(checklist.due, day):
                opens, _ = window(checklist.window, day, self.site)
                at = max(opens, self._moment(day, self.story.shifts[0].begins))
                at += timedelta(minutes=self.chance.uniform(12, 22))
                self._do(at, partial(self._walk, checklist, day))
        self._at(day, time(8, 40), partial(self._plan_meals, day))
        for lot in self.story.lots:
            if lot.weighed_on == f"{day:%a}":
                self._at(day, time(10, 50), partial(self._weigh, lot.place))
        if day.weekday() in (0, 2, 4):  # before the tests of the day
            self._at(day, time(5, 40), self._top_up)
        for event in self.story.events:
            if self.last + timedelta(days=event.day) == day:
                self._at(day, event.at, partial(self._happen, event))
        midnight = self._moment(day + timedelta(days=1), time())
        while self._due and self._due[0][0] < midnight:
            at, _, act = heapq.heappop(self._due)
            self.world.advance(at)
            act()

    def _at(self, day: date, at: time, act: Callable[[], None]) -> None:
        self._do(self._moment(day, at), act)

    def _moment(self, day: date, at: time) -> datetime:
        return datetime.combine(day, at, self.site.timezone).astimezone(UTC)

    def _do(self, at: datetime, act: Callable[[], None]) -> None:
        heapq.heappush(self._due, (at, next(self._order), act))

    def _pass(self, low_s: float, high_s: float) -> None:
        """Let a little time go by."""
        self.world.advance(self.world.now + timedelta(seconds=self.chance.uniform(low_s, high_s)))

    @property
    def now(self) -> datetime:
        """The invented present, to the millisecond."""
        now = self.world.now
        return now.replace(microsecond=now.microsecond // 1000 * 1000)

    def _write(self, draft: E) -> E:
        entry = self.laptops[self._shift.laptop - 1].write(draft, self.now)
        self.entries.append(entry)
        self._pass(2, 5)
        return entry

    def _farm(self) -> Farm:
        return fold(self.site, self.entries)

    # -- a shift ---------------------------------------------------------------------------------

    def _begin(self, shift: Shift) -> None:
        self._shift = shift
        seen = {other.writer: other.head for other in self.laptops if other.head}
        mine = self.laptops[shift.laptop - 1]
        seen.pop(mine.writer, None)
        mine.begin(shift.by, self.now, seen)
        self._stock(self.now.astimezone(self.site.timezone).date())
        if self._handed is not None and shift.takes != "not":
            last, matters = self._handed
            seen_of_them = matters if shift.takes == "whole" else matters[: len(matters) // 2]
            self._write(handoff.takeover(last, shift.by, seen_of_them))

    def _stock(self, today: date) -> None:
        """Write down the lots that were there when the book began, or came in since."""
        for lot in [lot for lot in self._coming if self._came(lot) <= today]:
            self._coming.remove(lot)
            day = self._came(lot)
            hatched = "" if lot.hatched is None else str(day - timedelta(days=lot.hatched))
            self._write(
                Stocked(
                    lot=lot.lot, place=lot.place, count=lot.count, mean_weight=f"{lot.weight_g:g}",
                    unit="g", origin=lot.origin, estimated=lot.estimated, hatched=hatched,
                )
            )  # fmt: skip

    def _came(self, lot: Lot) -> date:
        return self._first if lot.arrives is None else self.last + timedelta(days=lot.arrives)

    def _hand_off(self, shift: Shift) -> None:
        farm, mine = self._farm(), self.laptops[shift.laptop - 1]
        document = handoff.matters(self.site, farm, self.now, shift.by, mine.writer)
        others = [other.by for other in self.story.shifts if other.by != shift.by]
        text = clean(paper.render(document), limit=MAX_TEXT, newlines=True)
        given = self._write(handoff.handoff(document, text, others[0] if others else ""))
        at = HandoffAt(given.id, given.at, given.covers, given.text, given.by, given.to)
        self._handed = at, [matter.id for matter in farm.matters]
        mine.seal()

    # -- a round ---------------------------------------------------------------------------------

    def _walk(self, checklist: Checklist, day: date) -> None:
        name = f"{checklist.code}.{day}.{self.now:%H%M%S%f}.{self._shift.by}"
        begun = self._write(Walk(event="begun", checklist=checklist.code, walk=name))
        asked = checklist if day != self._first else _everything(checklist)
        for place, step in plan.items(self.site, asked, day):
            self._pass(*SECONDS_A_STEP)
            if draft := self._answer(place, step, asked.due, day):
                self._write(_in_walk(draft, begun.walk, place, day))
        self._write(Walk(event="done", checklist=checklist.code, walk=name, day=day.isoformat()))

    def _answer(self, place: Place, step: Step, rhythm: str, day: date) -> Entry | None:
        if self.chance.random() < self.story.skipped * (1 if step.required else 3):
            usual = self.chance.random() < 0.7
            reasons = self.site.skip_reasons
            return Skipped(
                step=step.code, reason=reasons[0] if usual else self.chance.choice(reasons)
            )
        if step.check:
            low, high = step.check.good
            found = self.chance.gauss((low + high) / 2, (high - low) / 10)
            digits = 0 if step.check.finds == "slope" else 2
            return calibrated(step, rhythm, f"{found:.{digits}f}", day)
        if step.measure:
            unit = step.unit or ""
            value = self.world.measured(place, step.measure, unit)
            if value is None:
                return Skipped(step=step.code, reason=self.site.skip_reasons[-1])
            said = judge(self.site, place, step.measure, float(value), self.now, unit)
            return Reading(
                measure=step.measure, value=value, unit=unit, step=step.code, verdict=said.verdict
            )
        if step.code == DEAD_STEP:
            return self._count_dead(place)
        value = self._word(place, step)
        verdict = "act" if value in step.act_if else "watch" if value in step.watch_if else "ok"
        return Answer(step=step.code, value=value, verdict=verdict)

    def _count_dead(self, place: Place) -> Entry | None:
        fish = self.world.fish.get(place.code)
        if fish is None:
            return None
        found = self._dead.pop(place.code, 0)
        fish.count -= found
        cause = self._appetite(place.code).cause if found else ""
        mass = f"{found * fish.weight_g / 1000:.2f}" if found else ""
        return Died(lot=fish.lot.lot, count=found, mass=mass, cause=cause)

    def _word(self, place: Place, step: Step) -> str:
        if step.code == "feed_left":
            left = self._left.get(place.code, 0.0)
            return step.choices[(left >= 0.02) + (left >= 0.1) + (left >= 0.6)]
        if place.code in self.world.stopped and step.act_if:
            return step.act_if[0]
        told = self.story.answers.get(step.code, ())
        if told:
            return told[0] if self.chance.random() < 0.9 else self.chance.choice(told)
        words = step.choices or (("yes", "no") if step.answer == "yes-no" else ("0",))
        return next(word for word in words if word not in (*step.watch_if, *step.act_if))

    # -- fish ------------------------------------------------------------------------------------

    def _appetite(self, place: str) -> Appetite:
        today = (self.now.astimezone(self.site.timezone).date() - self.last).days
        for appetite in self.story.appetites:
            if appetite.place == place and appetite.day == today:
                return appetite
        left = self.chance.choice((0.0, 0.0, 0.0, 0.01, 0.03))
        return Appetite(place, today, left, 0, "unknown", "")

    def _nature_takes(self, day: date) -> None:
        for place in self.world.fish:
            told = (day - self.last).days
            dead = sum(a.dead for a in self.story.appetites if (a.place, a.day) == (place, told))
            stray = self.chance.random() < self.story.stray_deaths
            self._dead[place] = self._dead.get(place, 0) + (dead or int(stray))

    def _plan_meals(self, day: date) -> None:
        farm = self._farm()
        for ration in rations.today(self.site, farm, self.now):
            for meal in ration.meals:
                given_g = meal.advised_g
                if day == self._first and not given_g:
                    given_g = float(round(ration.biomass_kg * FIRST_DAY_G_KG / len(ration.meals)))
                if not ration.ready or not given_g:
                    continue
                at = self.now + (meal.number - 1) * FEEDING / max(3, len(ration.meals) - 1)
                at += timedelta(minutes=3 * self.chance.random() + 2)
                self._do(at, partial(self._feed, ration, meal.number, given_g))
        for appetite in self.story.appetites:
            if self.last + timedelta(days=appetite.day) == day and appetite.look:
                self._write(Note(place=appetite.place, text=appetite.look))

    def _feed(self, ration: rations.Ration, number: int, given_g: float) -> None:
        place = self.site.places[ration.place]
        product = self.site.products[ration.product]
        part = self._appetite(place.code).left
        left_g = round(given_g * max(0.0, self.chance.gauss(part, part / 6)))
        self._left[place.code] = left_g / given_g
        as_advised = given_g == ration.meals[number - 1].advised_g
        amount, why = (None, "") if as_advised else (Decimal(f"{given_g:g}"), BEFORE)
        why = why or (AGREED if ration.doubt else "")
        sure = not as_advised or bool(ration.doubt)
        self._write(rations.fed(ration, number, amount, why, left=left_g, confirmed=sure))
        self.world.eat(place, given_g - left_g, product.protein or 0.45)

    def _weigh(self, code: str) -> None:
        fish = self.world.fish[code]
        for _ in range(3):
            netted = min(self.chance.randint(*NETS), int(fish.count))
            mean = self.chance.gauss(fish.weight_g, SPREAD * fish.weight_g / netted**0.5)
            self._write(
                Weighed(
                    lot=fish.lot.lot,
                    place=code,
                    count=netted,
                    mass=f"{netted * mean:.0f}",
                    unit="g",
                )
            )
            self._pass(120, 240)

    # -- water and what happens ------------------------------------------------------------------

    def _top_up(self) -> None:
        for code, water in self.world.loops.items():
            target = self.site.loops[code].salinity_target
            missing = water.volume_m3 * (water.salinity - target) / water.salinity
            if missing < 0.1:
                continue
            volume = round(missing, 2)
            water.top_up(volume)
            self._write(
                Exchanged(
                    loop=code, volume_out="0", volume_in=f"{volume:.2f}", unit="m^3",
                    salinity_in="0",
                )
            )  # fmt: skip

    def _happen(self, event: Event) -> None:
        match event.what:
            case "settle":
                if event.about in self._matters:  # else it was opened before the book begins
                    self._write(Matter(text=event.text, of=self._matters[event.about]))
            case "dose":
                self._dose(event.loop or "")
            case "meal by mistake":
                self._feed_by_mistake(event.place or "")
            case _:
                draft = happened(event, self.world, self._shift.by)
                written = self._write(draft) if draft else None
                if isinstance(written, Matter):
                    self._matters[event.about] = written.id

    def _feed_by_mistake(self, code: str) -> None:
        """Feed fish that are not to be fed, as yesterday, and write it down afterwards."""
        place, farm = self.site.places[code], self._farm()
        ration = next(one for one in rations.today(self.site, farm, self.now) if one.place == code)
        grams = max(1, round(ration.biomass_kg * MISTAKEN_G_KG))
        self._write(rations.fed(ration, 1, Decimal(grams), MISTAKEN, confirmed=True))
        self.world.eat(place, grams, self.site.products[place.feed or ""].protein or 0.45)

    def _dose(self, loop: str) -> None:
        """Give what the dose sheet advises, portion by portion; without a test, tomorrow."""
        sheets = doses.today(self.site, self._farm(), self.now)
        sheet = next(sheet for sheet in sheets if sheet.loop == loop)
        line = next((line for line in sheet.lines if line.kind == "alkalinity"), None)
        if line is None or line.product is None:
            self._do(self.now + timedelta(days=1), partial(self._dose, loop))
            return
        for number, grams in enumerate(line.portions, 1):
            self._do(
                self.now + timedelta(hours=(number - 1) * line.hours_between),
                partial(self._pour, line, sheet, number, grams),
            )

    def _pour(
        self, line: doses.DoseLine, sheet: doses.DoseSheet, number: int, grams: float
    ) -> None:
        self._write(doses.dosed(line, sheet, number))
        self.world.pour(sheet.loop, self.site.products[line.product or ""], grams)


def _everything(checklist: Checklist) -> Checklist:
    """Return a checklist that asks all its steps: a book begins with everything measured."""
    steps = tuple(replace(step, due=None) for step in checklist.steps)
    return replace(checklist, steps=steps)


def _in_walk(draft: Entry, walk: str | None, place: Place, day: date) -> Entry:
    return replace(draft, walk=walk, place=place.code, day=day.isoformat())
