"""Something that stays open: what, who has it, until when, and what makes it urgent again."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Final

from rounds.day.readings.judgement import Judgement
from rounds.day.recording.forms import draft
from rounds.day.recording.matters import MATTER, PICKS, again_picks, findings
from rounds.day.when import spoken
from rounds.screens.ask import Ask
from rounds.screens.choose import Choose
from rounds.screens.page import Page

LABEL: Final = "OPEN MATTER"
_OTHER: Final = "something else"
_WHEN: Final = "another time: write it"
_MOST: Final = 8
"""Values to watch offered with a digit; one is left for something else."""


def open_matter(page: Page[Any]) -> None:
    """Ask for a matter, a digit an answer, then keep it; Esc at any step keeps nothing.

    A value to watch that is picked stays known and quiet until the end, or until it is worse.
    """
    desk = page.desk
    found = findings(desk.site, desk.farm, desk.now())[:_MOST]

    def picked(index: int | None) -> None:
        if index is not None:
            _ask(page, found[index] if index < len(found) else None)

    if not found:
        _ask(page, None)
        return
    says = ["A value to watch that somebody has in hand stays quiet until it is worse, or late."]
    options = [f"{one.place} {one.says}" for one in found]
    page.app.push_screen(Choose(LABEL, "About what?", [*options, _OTHER], says=says), picked)


def _ask(page: Page[Any], about: Judgement | None) -> None:
    desk = page.desk
    answers: dict[str, str] = {}
    if about is not None:
        answers |= {"where": about.place, "about": about.measure}
    people = sorted(desk.site.people.values(), key=lambda person: person.code != desk.by)
    ends = [_end(desk.now(), hours, page) for hours in PICKS]
    again = again_picks(desk.site, about) if about else ()

    def worded(text: str | None) -> None:
        if text is None:
            return
        answers["text"] = text
        if people:
            names = [f"{person.name}, {person.role}" for person in people]
            page.app.push_screen(Choose(LABEL, "Who has it?", names), owned)
        else:
            owned(None)

    def owned(index: int | None) -> None:
        if people and index is None:
            return
        if index is not None:
            answers["owner"] = people[index].code
        page.app.push_screen(Choose(LABEL, "Until when?", [*ends, _WHEN]), ended)

    async def ended(index: int | None) -> None:
        if index == len(PICKS):
            says = ["18:00, 24 h, or a day and time such as 2026-11-28 18:00"]
            ask = Ask(LABEL, "Until when?", says=says, limit=20, check=until)
            page.app.push_screen(ask, timed)
        elif index is not None:
            await timed(PICKS[index])

    def until(text: str) -> None:
        draft(MATTER, {**answers, "until": text}, desk.farm, desk.now(), by=desk.by)

    async def timed(text: str | None) -> None:
        if text is None:
            return
        answers["until"] = text
        if again[1:]:
            says = ["X ACT NOW is told whatever is picked."]
            page.app.push_screen(Choose(LABEL, "Again if worse than?", again, says=says), told)
        else:
            answers["again"] = next(iter(again), "")
            await _keep(page, answers)

    async def told(index: int | None) -> None:
        if index is not None:
            answers["again"] = again[index]
            await _keep(page, answers)

    spot = f"{about.place} {about.says}: what is being done?" if about else "What is open?"
    page.app.push_screen(Ask(LABEL, spot), worded)


async def _keep(page: Page[Any], answers: dict[str, str]) -> None:
    desk = page.desk
    await page.write(
        lambda: draft(MATTER, answers, desk.farm, desk.now(), by=desk.by),
        f"Kept: {answers['text']}",
    )


def _end(now: datetime, hours: str, page: Page[Any]) -> str:
    at = now + timedelta(hours=int(hours.partition(" ")[0]))
    return spoken(at, now, page.desk.site.timezone)
