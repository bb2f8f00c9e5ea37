"""`rounds weigh`: how many to weigh, what a sample says, and the sample kept."""

from __future__ import annotations

import argparse
from decimal import Decimal
from typing import Any

from msgspec.structs import asdict

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import say, why
from rounds.day.fold.state import Stock
from rounds.day.lots import weighing
from rounds.day.lots.weighing import Netted, Weighing
from rounds.fish.sampling import BIASES
from rounds.records.entry import Note
from rounds.text import number
from rounds.units import quantity


def run(asked: argparse.Namespace) -> int:
    """Plan a sample, or work one out; with --keep, keep it."""
    netted = _netted(asked)
    if asked.keep and netted is None:
        raise Failure("--keep goes with --weights or --nets: what was weighed")
    writes = bool(asked.keep)
    with opened(asked, writes=writes) as farm:
        stock = _stock(farm, asked)
        if netted is None:
            _plan(farm, stock, asked)
            return 0
        lengths = [quantity(f"{one} {_unit(asked)}", "cm") for one in _lengths(asked)]
        found = weighing.weighed(
            farm.site, farm.farm, stock, netted, farm.now, asked.precision, lengths
        )
        if writes and found.odd and not asked.confirm:
            raise Failure(f"{'; '.join(found.odd)}. If it is right, add --confirm")
        if writes:
            _keep(farm, stock, netted, asked)
        if asked.json:
            farm.emit("weigh", [_row(found, kept=writes)])
        else:
            _show(farm, found, kept=writes)
    return 0


def _netted(asked: argparse.Namespace) -> Netted | None:
    if asked.weights is not None and asked.nets is not None:
        raise Failure("give --weights or --nets, not both")
    if asked.tare is not None and asked.nets is None:
        raise Failure("--tare goes with --nets: a wet net is taken off each of them")
    if asked.lengths is not None and asked.weights is None:
        raise Failure("--lengths goes with --weights: the same fish in the same order")
    if asked.weights is not None:
        return weighing.weights(asked.weights)
    if asked.nets is not None:
        tare = number(asked.tare) if asked.tare is not None else Decimal(0)
        if tare < 0:
            raise Failure("--tare is the weight of the wet net: 0 or more")
        return weighing.nets(asked.nets, tare)
    return None


def _lengths(asked: argparse.Namespace) -> list[str]:
    parts = (asked.lengths or "").replace(";", " ").split()
    return [str(number(one)) for one in parts if one not in ("cm", "mm", "in")]


def _unit(asked: argparse.Namespace) -> str:
    last = (asked.lengths or "cm").split()[-1:]
    return last[0] if last and last[0] in ("cm", "mm", "in") else "cm"


def _stock(farm: Opened, asked: argparse.Namespace) -> Stock:
    code = place_code(farm.site, asked.place)
    here = farm.farm.stocks.get(code, ())
    lots = [stock.lot for stock in here]
    if not here:
        raise Failure(f"{code} has no fish on record")
    if asked.lot is None and len(here) > 1:
        raise Failure(f"{code} holds {', '.join(lots)}: say which with --lot")
    for stock in here:
        if asked.lot is None or stock.lot.casefold() == asked.lot.casefold():
            return stock
    raise Failure(f"{asked.lot} is not in {code}: {', '.join(lots)}")


def _keep(farm: Opened, stock: Stock, netted: Netted, asked: argparse.Namespace) -> None:
    entry = farm.write(weighing.draft(stock, netted))
    if asked.lengths:
        text = f"Lengths of the fish weighed, {_unit(asked)}: {' '.join(_lengths(asked))}"
        try:
            farm.write(Note(place=stock.place, lot=stock.lot, text=text, about=entry.id))
        except Failure as error:
            raise Failure(f"{error} The sample is kept, keep it no second time. {text}") from None


def _plan(farm: Opened, stock: Stock, asked: argparse.Namespace) -> None:
    """Say how many fish to weigh, and how not to fool oneself."""
    cv = weighing.last_cv(stock)
    fish = weighing.wanted(stock, cv, asked.precision)
    spread = f"CV {cv:.0f} % at the last sample" if cv else "CV 20 % taken, none was weighed yet"
    if asked.json:
        row = {"place": stock.place, "lot": stock.lot, "wanted": fish, "cv_percent": cv,
               "precision_percent": asked.precision, "biases": BIASES,
               "reasons": [spread]}  # fmt: skip
        farm.emit("weigh", [row])
        return
    say(f"Weigh {fish} of {stock.count} {stock.lot} in {stock.place} for a mean within "
        f"{asked.precision:g} % ({spread}).", "Mind:")  # fmt: skip
    for bias in BIASES:
        say(f"  - {bias}", hang=2)


def _row(found: Weighing, *, kept: bool) -> dict[str, Any]:
    return {"kept": kept, **asdict(found)}


def _show(farm: Opened, found: Weighing, *, kept: bool) -> None:
    said = "Kept: " if kept else ""
    say(f"{said}{found.count} fish of {found.lot} in {found.place}, mean {found.mean_g:.4g} g.")
    if found.median_g is not None:
        say(f"Median {found.median_g:.4g} g.")
    if found.sd_g is not None and found.low_g is not None and found.high_g is not None:
        skew = "" if found.skew is None else f", skew {found.skew:+.2f}"
        say(
            f"Spread {found.sd_g:.3g} g, CV {found.cv_percent:.1f} %{skew}; "
            f"mean between {found.low_g:.4g} and {found.high_g:.4g} g (95 %)."
        )
    if found.since_last:
        say(f"Change {found.since_last}.")
    if found.condition is not None:
        say(f"Condition {found.condition:.2f} (100 W / L3, g and cm).")
    if found.above_market:
        sample, normal, log_normal = (100 * part for part in found.above_market.values())
        prefer = "the sample counts" if found.count >= 30 else "under 30 fish: look at all three"
        say(f"Above {found.market_g:g} g: {sample:.0f} % of the sample, {normal:.1f} % if normal, "
            f"{log_normal:.1f} % if log-normal; {prefer}.", hang=2)  # fmt: skip
    say(f"For {found.precision_percent:g} % weigh {found.wanted} fish.")
    say(f"Carried {found.carried_g:.4g} g, sampled {found.mean_g:.4g} g: "
        f"{found.adopted_g:.4g} g is used.", hang=2)  # fmt: skip
    if found.recount:
        say("RECOUNT: carried and sampled disagree. Weigh a second sample; until then the smaller "
            "counts.", hang=2)  # fmt: skip
    for text in (*found.odd, *found.cautions):
        say(f"! {text}.", hang=2)
    say("Why:")
    why(found.reasons, farm.site.display_units)
    say("Mind:")
    for bias in found.biases:
        say(f"  - {bias}", hang=2)
    if not kept:
        say("Not kept: --keep keeps it.")
