"""Reads limits and species profiles: shipped ones, the site's own, and what a site overrides."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any, Final, Literal

from rounds.fish.ration import RationTable
from rounds.site.feed_tables import (
    TEMPERATURES_C,
    WEIGHTS_G,
    Grid,
    out_of_order,
    read_feed_table,
)
from rounds.site.measures import MEASURES
from rounds.site.model import STAGES, Limits, Screen, Species, Stage, SwimBladder, Weaning
from rounds.site.reading import Problem, Table, nearest, read_toml
from rounds.site.shipped import shipped

AnyStage = Literal["any"] | Stage
_STAGES: Final[tuple[AnyStage, ...]] = ("any", *STAGES)
_BOUNDS: Final = ("act_low", "target_low", "target_high", "act_high")
_SOURCED: Final = (
    "feeding_low",
    "optimum_low",
    "optimum_high",
    "upper_limit",
    "fcr",
    "market_weight",
    "meals",
    "length_weight",
    "density",
    "energy_budget",
)


def read_limits(table: Table) -> Limits | None:
    """Read one [[limits]] table; the caller closes it.

    Bounds are numbers in the measure's unit, or text with a unit.
    """
    code = table.text("measure", allowed="one of the measures")
    measure = MEASURES.get(code)
    if measure is None:
        if code:
            table.problem("measure", code, nearest(code, MEASURES))
        for key in (*_BOUNDS, "hours", "do_watch", "do_act", "source"):
            table.take(key, None)
        return None
    low, high = measure.impossible_low, measure.impossible_high
    bounds = {key: table.maybe(key, measure.unit, low, high) for key in _BOUNDS}
    given = [(key, value) for key, value in bounds.items() if value is not None]
    if not any(table.has(key) for key in _BOUNDS):
        table.problem("", None, f"has no bounds: give one or more of {', '.join(_BOUNDS)}")
    for (lower, a), (upper, b) in pairwise(given):
        if a > b:
            table.problem(upper, b, f"must not be below {lower} = {a:g}")
    return Limits(
        measure=measure.code,
        **bounds,
        hours=table.hours("hours"),
        do_watch=table.text("do_watch", ""),
        do_act=table.text("do_act", ""),
        source=table.text(
            "source", "this site" if table.file == "site.toml" else "common practice"
        ),
    )


def read_species(
    folder: Path, overrides: list[Table], problems: list[Problem]
) -> dict[str, Species]:
    """Read every species a site may name.

    A profile in the site's own `species` folder replaces a shipped one of the same code. A profile
    that is `like` another takes from it what it does not say itself. A [[species]] table in
    site.toml then replaces single values of a profile, or is one of its own.

    Args:
        folder: The site's folder.
        overrides: The [[species]] tables of site.toml.
        problems: Where problems are noted.

    Returns:
        Profiles by code; those with problems are there too, the caller raises.
    """
    raw: dict[str, dict[str, Any]] = {}
    found: dict[str, Species] = {}
    own = sorted((folder / "species").glob("*.toml"))
    files = []
    for path in (*sorted(shipped("species").glob("*.toml")), *own):
        file = f"species/{path.name}"
        data = read_toml(path, file, problems)
        if data is not None:
            files.append((file, data))
    whole = {str(data.get("code")): data for _, data in files if "like" not in data}
    for file, data in files:
        like = data.pop("like", None)
        before = len(problems)
        if like is not None:
            data = _merged(whole.get(str(like), {}), data, "common practice")
        table = Table(data, file, "", problems)
        if like is not None and like not in whole:
            table.problem(
                "like", like, f"must be a profile of its own: {nearest(str(like), whole)}"
            )
        species = _read(table, folder)
        if len(problems) == before:
            found[species.code] = species
            raw[species.code] = table.data
    seen: set[str] = set()
    for table in overrides:
        code = table.code(longest=32)
        if code in seen:
            table.problem("code", code, "is overridden twice: put all its values in one table")
        elif code:
            seen.add(code)
            merged = _merged(raw.get(code, {}), table.data, "this site")
            found[code] = _read(Table(merged, table.file, table.name, problems), folder)
    return found


def _read(table: Table, folder: Path) -> Species:
    code = table.code(longest=32)
    sources = table.table("sources")
    cited = {key: sources.text(key, "common practice") for key in _SOURCED}
    sources.close()
    limits: dict[AnyStage, list[Limits]] = {}
    for one in table.tables("limits", "measure"):
        stage: AnyStage = one.word("stage", _STAGES, "any")
        read = read_limits(one)
        one.close()
        if read is not None and stage in _STAGES:
            limits.setdefault(stage, []).append(read)
    species = Species(
        code=code,
        name=table.text("name"),
        latin=table.text("latin", ""),
        feeding_low_c=table.number("feeding_low", "degC", -2.2, 45),
        optimum_low_c=table.number("optimum_low", "degC", -2.2, 45),
        optimum_high_c=table.number("optimum_high", "degC", -2.2, 45),
        upper_limit_c=table.number("upper_limit", "degC", -2.2, 45),
        fcr=table.number("fcr", "1", 0.5, 15),
        market_weight_g=table.number("market_weight", "g", 0.1, 500_000),
        table=_ration_table(table.table("table"), folder),
        meals=_meals(table),
        limits={stage: tuple(of_stage) for stage, of_stage in limits.items()},
        length_weight=_length_weight(table),
        density_kg_m3=_densities(table.table("density")),
        sources=cited,
        weaning=_weaning(table),
        screens=_screens(table),
        swim_bladder=_swim_bladder(table),
        energy_budget=table.word("energy_budget", ("", "gilthead"), ""),
    )
    order = ("feeding_low", "optimum_low", "optimum_high", "upper_limit")
    values = [getattr(species, f"{key}_c") for key in order]
    for key, lower, upper in zip(order[1:], values, values[1:], strict=False):
        if lower > upper and table.has(key):
            table.problem(key, table.data[key], f"must not be below {lower:g} degC, in this order:"
                          f" {', '.join(order)}")  # fmt: skip
    table.close()
    return species


def _merged(base: Mapping[str, Any], over: Mapping[str, Any], source: str) -> dict[str, Any]:
    merged = {**base, **over}
    if all(isinstance(one, dict) for one in over.get("limits", ())):
        new = over.get("limits", ())
        old = {(one.get("stage", "any"), one["measure"]): one for one in base.get("limits", ())}
        keys = [(one.get("stage", "any"), one.get("measure")) for one in new]
        kept = [one for key, one in old.items() if key not in keys]
        said = [{k: v for k, v in old.get(key, {}).items() if k.startswith("do_")} for key in keys]
        merged["limits"] = [{**do, **one} for do, one in zip(said, new, strict=True)] + kept
    changed = dict.fromkeys(set(over) & set(_SOURCED), source)
    given = over.get("sources", {})
    if isinstance(given, dict):
        merged["sources"] = {**base.get("sources", {}), **changed, **given}
    return merged


def _meals(table: Table) -> tuple[tuple[float, int], ...]:
    rule = "must be pairs [up to this weight in g, meals a day], rising, such as [[2, 8], [20, 5]]"
    value = table.take("meals", allowed=rule.removeprefix("must be "))
    if value is None:
        return ()
    pairs = [
        (float(pair[0]), pair[1])
        for pair in (value if isinstance(value, list) else [])
        if isinstance(pair, list) and len(pair) == 2 and _is_number(pair[0])
        and isinstance(pair[1], int) and 1 <= pair[1] <= 24
    ]  # fmt: skip
    if not pairs or len(pairs) != len(value) or not _rising([weight for weight, _ in pairs]):
        table.problem("meals", value, rule)
    return tuple(pairs)


def _densities(table: Table) -> dict[AnyStage, float]:
    """Read the most fish wanted by stage, kg/m3."""
    found = {stage: table.maybe(stage, "1", 0.01, 300) for stage in _STAGES}
    table.close()
    return {stage: density for stage, density in found.items() if density is not None}


def _length_weight(table: Table) -> tuple[float, float] | None:
    value = table.take("length_weight", None)
    if value is None:
        return None
    if isinstance(value, list) and len(value) == 2 and all(map(_is_number, value)):
        a, b = (float(part) for part in value)
        if 0.0001 <= a <= 1 and 2 <= b <= 4:
            return a, b
    rule = "must be [a, b] of W = a L^b in g and cm, such as [0.0137, 2.993]"
    table.problem("length_weight", value, rule)
    return None


def _weaning(table: Table) -> tuple[Weaning, ...]:
    """Read the [[weaning]] tables: foods of larvae by days after hatch."""
    found = []
    for one in table.tables("weaning", "food"):
        first, last, source = _ages(one)
        found.append(Weaning(one.text("food"), first, last, source))
        one.close()
    return tuple(sorted(found, key=lambda w: (w.from_day, w.to_day)))


def _screens(table: Table) -> tuple[Screen, ...]:
    """Read the [[screen]] tables: mesh of the larval tank's outlet by days after hatch."""
    found = []
    for one in table.tables("screen", "mesh_um"):
        first, last, source = _ages(one)
        found.append(Screen(one.number("mesh_um", "1", 20, 10_000), first, last, source))
        one.close()
    return tuple(sorted(found, key=lambda s: (s.from_day, s.to_day)))


def _swim_bladder(table: Table) -> SwimBladder | None:
    """Read the [swim_bladder] table: when larvae fill it with air from the surface."""
    given = table.has("swim_bladder")
    one = table.table("swim_bladder")
    found = SwimBladder(*_ages(one)) if given else None
    one.close()
    return found


def _ages(one: Table) -> tuple[int, int, str]:
    first = one.whole("from_day", 0, 365)
    last = one.whole("to_day", 0, 365)
    if last < first and one.has("to_day"):
        one.problem("to_day", last, f"must not be before from_day = {first}")
    return first, last, one.text("source", "common practice")


def _ration_table(table: Table, folder: Path) -> RationTable:
    """Read percent of body weight a day, written here or in a CSV file of the site."""
    grid = _from_csv(table, folder) if table.has("file") else _inline(table)
    source = table.text("source", allowed="where the figures come from")
    feed, energy = table.text("feed", ""), table.maybe("energy", "kJ/g", 2, 30)
    table.close()
    if grid is None:
        return RationTable((1.0,), (20.0,), ((0.0,),), source)  # a problem is told: never used
    return RationTable(
        tuple(grid.weights_g),
        tuple(grid.temperatures_c),
        tuple(map(tuple, grid.percent)),
        source,
        verified="unverified" not in source.lower(),
        feed=feed,
        energy_kj_g=energy,
    )


def _inline(table: Table) -> Grid | None:
    """Read a feed table written in the profile itself."""
    weights = table.take("weights_g", allowed="rising weights in g")
    temperatures = table.take("temperatures_c", allowed="rising temperatures in degC")
    percent = table.take("percent", allowed="one row a weight, one column a temperature")
    if weights is None or temperatures is None or percent is None:
        return None
    axes = (("weights_g", weights, WEIGHTS_G), ("temperatures_c", temperatures, TEMPERATURES_C))
    for key, axis, (low, high) in axes:
        good = isinstance(axis, list) and bool(axis) and all(map(_is_number, axis))
        if not good or not _rising(axis) or not low <= axis[0] <= axis[-1] <= high:
            table.problem(key, axis, f"must be rising numbers from {low:g} to {high:g}")
            return None
    good = isinstance(percent, list) and len(percent) == len(weights)
    for row in percent if good else ():
        good = good and isinstance(row, list) and len(row) == len(temperatures)
        good = good and all(_is_number(cell) and 0 <= cell <= 100 for cell in row)
    if not good:
        rule = f"must be {len(weights)} rows of {len(temperatures)} numbers from 0 to 100"
        table.problem("percent", percent, rule)
        return None
    grid = Grid(
        [float(w) for w in weights],
        [float(t) for t in temperatures],
        [[float(cell) for cell in row] for row in percent],
    )
    for row, column, says in out_of_order(grid):
        at = f"{grid.weights_g[row]:g} g, {grid.temperatures_c[column]:g} degC"
        table.problem("percent", grid.percent[row][column], f"at {at}: {says}")
    return grid


def _from_csv(table: Table, folder: Path) -> Grid | None:
    """Read the feed table a profile names."""
    name = table.text("file")
    path = folder / name
    if not path.resolve().is_relative_to((folder / "feeds").resolve()) or not path.is_file():
        rule = 'must name a CSV file in the site\'s folder feeds, such as "feeds/grower.csv"'
        table.problem("file", name, rule)
        return None
    return read_feed_table(path, name, table.problems)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9


def _rising(values: list[float]) -> bool:
    return all(a < b for a, b in pairwise(values))
