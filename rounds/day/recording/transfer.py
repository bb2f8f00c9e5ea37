"""Fish moved from a tank to one or several: what comes first, the account, and the entries of it.

The account is of number and of mass: what left is what arrived and what was lost. Where it does not
balance nothing is kept before the difference is named. Kept are entries that are true each on its
own, in this order: the dead, the sampled, the lost that somebody named, each move, then a note of
the whole. An interruption leaves fish on record where they were before; the same transfer asked
again tells what is kept already.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.lots.handling import Check, checks
from rounds.day.lots.series import LOST
from rounds.day.readings.judgement import Word, worst
from rounds.day.recording.asking import answer
from rounds.day.recording.forms import FORMS, draft
from rounds.day.slips import Unsure
from rounds.fish.transfer import MASS_OFF, off_balance
from rounds.reason import Reason, Reasons
from rounds.records.entry import Entry, Note
from rounds.site.model import Site
from rounds.units import Amount, convert

AFTER = "Count the dead after 24 h and after 72 h; let the fish rest for two days"


class Load(Struct, frozen=True):
    """Fish counted, and weighed together where a mass is given: as typed, and in kg."""

    count: int
    mass: str = ""
    unit: str = "kg"

    @property
    def kg(self) -> float | None:
        """Their mass; None where they were not weighed."""
        return convert(float(self.mass), self.unit, "kg") if self.mass else None

    @property
    def answers(self) -> dict[str, str]:
        """Return number and mass as a form takes them."""
        mass = {"mass": f"{self.mass} {self.unit}"} if self.mass else {}
        return {"count": str(self.count), **mass}

    def __str__(self) -> str:
        """Return it in words: "200 fish, 80 kg"."""
        return f"{self.count} fish, {f'{self.mass} {self.unit}' if self.mass else 'not weighed'}"


class Transfer(Struct, frozen=True):
    """What is asked: from where, how many into each target, and what was lost on the way.

    `out` is what was counted and weighed on the way out; None where nobody did.
    """

    stock: Stock
    into: Mapping[str, Load]
    out: Load | None = None
    dead: Load = Load(0)
    sampled: Load = Load(0)


class Sheet(Struct, frozen=True):
    """The sheet of a transfer. `off_fish` and `off_kg` are what left and is not accounted for.

    `off_kg` is None where something was not weighed. `balances` says that no fish is off, and the
    mass no more than what weighing leaves open.
    """

    source: str
    lot: str
    verdict: Word
    checks: tuple[Check, ...]
    out: Load | None
    into: Mapping[str, Load]
    dead: Load
    sampled: Load
    left: int
    off_fish: int
    off_kg: float | None
    balances: bool
    after: str
    reasons: Reasons


def load(text: str, farm: Farm) -> Load:
    """Read "200/80": so many fish, and their mass together in the site's unit or with its own.

    Raises:
        ValueError: It is no count, or no mass above 0.
    """
    form = FORMS["moved"]
    count, mass = (next(one for one in form.fields if one.name == key) for key in ("count", "mass"))
    typed, _, weighed = text.partition("/")
    many = int(answer(form, count, typed, farm, {}))
    digits, _, unit = answer(form, mass, weighed, farm, {}).partition(" ")
    return Load(many, digits, unit or "kg")


def transfer(
    farm: Farm, source: str, into: Iterable[tuple[str, str]], lot: str = "", out: str = "",
    dead: str = "", sampled: str = "",
) -> Transfer:  # fmt: skip
    """Read a transfer as it was typed.

    Args:
        farm: The farm.
        source: A place with fish.
        into: Place and load of each target, in order.
        lot: Which lot; may be left out where there is one.
        out: What was counted and weighed on the way out, or empty.
        dead: The dead of it, or empty.
        sampled: What was kept back for good, or empty.

    Raises:
        ValueError: One sentence saying what cannot be.
    """
    here = farm.stocks.get(source, ())
    found = [stock for stock in here if stock.lot.casefold() == lot.casefold() or not lot]
    if not here:
        raise ValueError(f"{source} has no fish on record")
    if len(found) != 1:
        lots = ", ".join(stock.lot for stock in here)
        raise ValueError(f"{source} holds {lots}: say which, with --lot")
    targets: dict[str, Load] = {}
    for code, text in into:
        if code in targets:
            raise ValueError(f"{code} is named twice: add its fish up")
        if code == source:
            raise ValueError(f"{source} is where they are: name the place they go to")
        targets[code] = load(text, farm)
        if not targets[code].count:
            raise ValueError(f"0 fish into {code}: there is nothing to move")
    if not targets:
        raise ValueError("say where they go and how many, such as G4=200/80")
    asked = Transfer(
        found[0], targets, load(out, farm) if out else None,
        load(dead, farm) if dead else Load(0), load(sampled, farm) if sampled else Load(0),
    )  # fmt: skip
    gone = max(_left(asked), asked.out.count if asked.out else 0)
    if gone > asked.stock.count:
        said = f"{source} holds {asked.stock.count} of {asked.stock.lot}, {gone} cannot leave"
        raise ValueError(f"{said}: if there are more, record them as counted first")
    return asked


def _left(asked: Transfer) -> int:
    """Return how many fish arrived or were lost."""
    return sum(one.count for one in (*asked.into.values(), asked.dead, asked.sampled))


# -- the sheet -------------------------------------------------------------------------------------


def sheet(site: Site, farm: Farm, asked: Transfer, now: datetime) -> Sheet:
    """Make the sheet of a transfer: what comes first, then the account.

    Args:
        site: The site.
        farm: The farm as it stands before.
        asked: The transfer.
        now: The present.

    Returns:
        The sheet; nothing is kept by it.
    """
    stock = asked.stock
    found: dict[Check, None] = {}
    for code, one in asked.into.items():
        looked = checks(site, farm, stock, site.places[code], one.count, now)
        found.update(dict.fromkeys(looked))
    lost = (asked.dead, asked.sampled)
    off_fish, off_kg = 0, None
    if asked.out is not None:
        arrived = [one.count for one in asked.into.values()]
        off_fish = round(off_balance(asked.out.count, arrived, [one.count for one in lost]))
        off_kg = _off_kg(asked.out, asked.into.values(), lost)
    balances = off_fish == 0 and not _much(asked.out, off_kg)
    left = stock.count - _left(asked) - max(off_fish, 0)
    return Sheet(
        stock.place, stock.lot, worst(check.verdict for check in found), tuple(found), asked.out,
        asked.into, asked.dead, asked.sampled, left, off_fish, off_kg, balances, AFTER,
        (_reason(asked),),
    )  # fmt: skip


def _much(out: Load | None, off_kg: float | None) -> bool:
    """Tell whether more mass is off than water on the nets and two weighings leave open."""
    return bool(off_kg) and abs(off_kg or 0.0) > MASS_OFF * ((out and out.kg) or 0.0) + 1e-9


def _off_kg(out: Load, into: Iterable[Load], lost: Iterable[Load]) -> float | None:
    masses = [[one.kg for one in loads if one.count] for loads in ([out], into, lost)]
    if any(kg is None for kgs in masses for kg in kgs):
        return None
    (left,), arrived, gone = ([1000 * (kg or 0.0) for kg in kgs] for kgs in masses)
    return off_balance(left, arrived, gone) / 1000


def account(made: Sheet) -> tuple[str, ...]:
    """Return the account of a sheet, a line a load, and whether it balances."""
    off = _off(made)
    if made.out is None:
        ends = "Not counted on the way out: nothing checks what arrived; count, with --out"
    elif off:
        ends = f"DOES NOT BALANCE: {off}: count and weigh again, or name why"
    elif made.off_kg is None:
        ends = "The number balances; not all was weighed: no account of mass"
    elif made.off_kg:
        says = _off_words(0, made.off_kg)
        ends = f"Balances: the number is right; {says}, within {MASS_OFF:.0%} of weighing"
    else:
        ends = "Balances: number and mass out are in and lost"
    return (*_loads(made), ends)


def _loads(made: Sheet) -> list[str]:
    loads = {f"Out of {made.source}": made.out or Load(0)}
    loads |= {f"into {code}": one for code, one in made.into.items()}
    loads |= {"dead": made.dead, "sampled": made.sampled}
    return [f"{name} {one}" for name, one in loads.items() if one.count]


def _off(made: Sheet) -> str:
    """Return what is off and must be named; empty where a sheet balances."""
    off_kg = made.off_kg if _much(made.out, made.off_kg) else None
    return _off_words(made.off_fish, off_kg)


def _off_words(off_fish: int, off_kg: float | None) -> str:
    """Return what is off: "2 fish and 0.8 kg fewer came than left"; empty where nothing is."""
    parts = []
    if off_fish:
        few = "fewer" if off_fish > 0 else "more"
        parts.append(f"{abs(off_fish)} fish {few} came than left")
    if off_kg:
        few = "less" if off_kg > 0 else "more"
        parts.append(f"{abs(off_kg):.4g} kg {few} came than left")
    return " and ".join(parts)


def _reason(asked: Transfer) -> Reason:
    return Reason(
        "{lot} in {place}: {count} fish of {weight:.1f} on record",
        {
            "lot": asked.stock.lot, "place": asked.stock.place, "count": asked.stock.count,
            "weight": Amount(asked.stock.weight_g, "g"),
        },
        "count and mass out = in + dead + sampled",
    )  # fmt: skip


# -- the entries -----------------------------------------------------------------------------------


def entries(
    farm: Farm, made: Sheet, now: datetime, *, named: str = "", cause: str = "",
    permit: str = "", confirmed: bool = False,
) -> tuple[Entry, ...]:  # fmt: skip
    """Return the entries of a transfer in the order they are kept.

    Args:
        farm: The farm as it stands before.
        made: The sheet.
        now: The present.
        named: What the difference is, where the account does not balance.
        cause: What the dead died of, one of the site's causes.
        permit: Who lets sick fish, or fish in quarantine, be moved.
        confirmed: The person was told what looks wrong and means it.

    Raises:
        ValueError: The account does not balance and nobody named why, or an entry cannot be.
        Unsure: What looks wrong; `confirmed=True` keeps it.
    """
    if not made.balances and not named:
        raise ValueError(
            f"{_off(made)}: count and weigh again, or name why with --named; nothing is kept"
        )
    here = {"lot": made.lot, "place": made.source}
    told: list[tuple[str, dict[str, str]]] = []
    if made.dead.count:
        told.append(("died", {**here, **made.dead.answers, "cause": cause}))
    if made.sampled.count:
        told.append(("removed", {**here, **made.sampled.answers, "cause": "sample"}))
    if made.off_fish > 0:  # named, so nobody is asked to look for them
        told.append(("removed", {**here, "count": str(made.off_fish), "cause": LOST}))
    for code, one in made.into.items():
        told.append(("moved", {"lot": made.lot, "from": made.source, "to": code, **one.answers,
                               "permit": permit}))  # fmt: skip
    found, doubts = _drafts(farm, told, now)
    if doubts and not confirmed:
        raise Unsure(" ".join(dict.fromkeys(doubts)))
    off = _off(made)
    ends = f"{off}, {named}" if off else "balances" if made.out else "not counted on the way out"
    text = "; ".join((*_loads(made), ends))
    return (*found, Note(text=f"Transfer of {made.lot}: {text}", place=made.source))


def _drafts(
    farm: Farm, told: Sequence[tuple[str, dict[str, str]]], now: datetime
) -> tuple[list[Entry], list[str]]:
    found, doubts = [], []
    for key, answers in told:
        try:
            draft(FORMS[key], answers, farm, now)
        except Unsure as doubt:
            doubts.append(str(doubt))
        found.append(draft(FORMS[key], answers, farm, now, confirmed=True))
    return found, doubts
