"""Reads checklists: the shipped ones, and the site's own that replace or join them."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from pathlib import Path
from typing import Final, get_args

from rounds.site.measures import MEASURES
from rounds.site.model import HELD, KINDS, STAGES, TEST_POINT, Answer, Check, Checklist, Step
from rounds.site.reading import REQUIRED, Problem, Table, nearest, read_toml, unique
from rounds.site.rhythm import DUE_RULE, WINDOW_RULE, check_window, due_on
from rounds.site.shipped import shipped
from rounds.units import UNITS

_VISITS: Final = (*KINDS, *STAGES, *HELD, TEST_POINT)
_YES_NO: Final = ("yes", "no")


def load_checklists(
    folder: Path, places: Collection[str] | None, problems: list[Problem]
) -> dict[str, Checklist]:
    """Return the checklists of a site by code, which is the file's name without .toml.

    A file of the site's own folder `checklists` replaces the shipped one of the same name; with
    `off = true` in it there is none of that name.

    Args:
        folder: The site's folder.
        places: The site's place codes, or None where they are not known.
        problems: Where problems are noted.

    Returns:
        Shipped checklists first, then the site's own, each by file name.
    """
    paths = {path.name: path for path in sorted(shipped("checklists").glob("*.toml"))}
    paths |= {path.name: path for path in sorted((folder / "checklists").glob("*.toml"))}
    found = {}
    for name, path in paths.items():
        file = f"checklists/{name}"
        data = read_toml(path, file, problems)
        table = Table(data or {}, file, "", problems)
        if data is None or table.flag("off", False):
            continue
        source = "shipped" if path.parent == shipped("checklists") else file
        found[path.stem] = _checklist(table, path.stem, source, places)
    return found


def _checklist(table: Table, code: str, source: str, places: Collection[str] | None) -> Checklist:
    due, window = table.text("due", allowed=DUE_RULE), table.text("window", allowed=WINDOW_RULE)
    _rhythm(table, "due", due)
    if window:
        try:
            check_window(window)
        except ValueError:
            table.problem("window", window, f"must be {WINDOW_RULE}")
    steps: dict[str, Step] = {}
    for one in table.tables("step"):
        step = _step(one, places)
        if unique(steps, step.code, one):
            steps[step.code] = step
        one.close()
    if not table.has("step"):
        table.problem("step", None, "is missing: a checklist has one [[step]] or more")
    checklist = Checklist(
        code=code,
        title=table.text("title"),
        visits=_visits(table, places),
        due=due,
        window=window,
        steps=tuple(steps.values()),
        source=source,
    )
    if table.has("visits") and not checklist.visits:
        table.problem("visits", table.data["visits"], f"must name {', '.join(_VISITS)} or places")
    table.close()
    return checklist


def _step(table: Table, places: Collection[str] | None) -> Step:
    code = table.code(longest=24)
    answer: Answer = table.word("answer", get_args(Answer))
    choices = table.texts("choices", ())
    words = _YES_NO if answer == "yes-no" else choices
    if answer == "choice" and len(choices) < 2:
        table.problem("choices", None, "is missing: a choice needs two or more")
    elif answer != "choice" and choices:
        table.problem("choices", list(choices), 'is for answer = "choice" only')
    flagged = {key: table.texts(key, ()) for key in ("watch_if", "act_if")}
    for key, said in flagged.items():
        for word in said:
            if word not in words:
                table.problem(key, word, nearest(word, words))
    check = _check(table, answer)
    measure, unit = (None, None) if check else _measure(table, answer)
    due = table.text("due", "") or None
    if due:
        _rhythm(table, "due", due)
    do = table.text("do", "")
    if any(flagged.values()) and not do:
        table.problem("do", None, "is missing: an answer in watch_if or act_if needs what to do")
    return Step(
        code=code,
        ask=table.text("ask"),
        answer=answer,
        stop_pass=table.whole("pass", 0, 9, 1),
        measure=measure,
        unit=unit,
        choices=choices,
        **flagged,
        do=do,
        how=table.text("how", allowed="how it is done, in words for a first day"),
        why=table.text("why", allowed="why it is done"),
        caution=table.text("caution", ""),
        required=table.flag("required", True),
        due=due,
        visits=_visits(table, places, ()),
        check=check,
    )


def _check(table: Table, answer: Answer) -> Check | None:
    """Read what a step that checks a meter is about; None for any other step."""
    if not table.has("checks"):
        return None
    if answer != "number":
        table.problem("checks", None, 'is for answer = "number" only')
    one = table.table("checks")
    measures = [name for name, measure in MEASURES.items() if not measure.derived]
    check = Check(
        measure=one.word("measure", measures),
        finds=one.word("finds", ("slope", "offset")),
        good=_band(one),
        points=one.texts("points", ()),
        instrument=one.text("instrument", ""),
    )
    one.close()
    return check


def _band(table: Table) -> tuple[float, float]:
    rule = "from and to, such as [97, 103]"
    value = table.take("good", allowed=rule)
    if isinstance(value, list) and len(value) == 2:
        low, high = (v if type(v) in (int, float) else float("nan") for v in value)
        if -1000 <= low < high <= 1000:
            return float(low), float(high)
    if value is not None:
        table.problem("good", value, f"must be {rule}")
    return 0.0, 0.0


def _measure(table: Table, answer: Answer) -> tuple[str | None, str | None]:
    code, unit = table.text("measure", "") or None, table.text("unit", "") or None
    if answer != "number":
        for key, value in (("measure", code), ("unit", unit)):
            if value:
                table.problem(key, value, 'is for answer = "number" only')
        return None, None
    typed = {name: measure for name, measure in MEASURES.items() if not measure.derived}
    measure = typed.get(code or "")
    if measure is None:
        said = nearest(code, typed) if code else f"is missing: one of {', '.join(typed)}"
        table.problem("measure", code, said)
        return None, None
    kin = [name for name, one in UNITS.items() if one.dimension == UNITS[measure.unit].dimension]
    if unit and unit not in kin:
        table.problem("unit", unit, nearest(unit, kin))
    return code, unit or measure.unit


def _rhythm(table: Table, key: str, text: str) -> None:
    if text:
        try:
            due_on(text, date(2000, 1, 1))
        except ValueError:
            table.problem(key, text, f"must be {DUE_RULE}")


def _visits(
    table: Table, places: Collection[str] | None, default: object = REQUIRED
) -> tuple[str, ...]:
    visits = table.texts("visits", default, f"{', '.join(_VISITS)} or codes of places")
    for visit in visits:
        if visit not in _VISITS and places is not None and visit not in places:
            table.problem("visits", visit, nearest(visit, (*_VISITS, *places)))
    return visits
