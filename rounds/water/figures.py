"""Everything that follows from the readings of one water, each figure where its equation holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.water import oxygen
from rounds.water.ammonia import un_ionised
from rounds.water.carbonate import co2
from rounds.water.conductivity import (
    conductivity_ms_cm,
    salinity_from_conductivity,
    salinity_from_conductivity_25,
)
from rounds.water.ph_scale import LEAST_SALINITY, Buffers, nbs_above_total
from rounds.water.ranges import within
from rounds.water.seawater import (
    density_kg_m3,
    salinity_from_hydrometer,
    salinity_from_specific_gravity,
    specific_gravity,
)
from rounds.water.sulphide import hydrogen_sulphide_fraction


class Readings(Struct, frozen=True, kw_only=True):
    """What was read of one water; None is not read. Salinity comes from one of four instruments.

    Temperature -2 to 40 degC, salinity 0 to 42, pH 4 to 11 as the meter shows it, oxygen 0 to 40,
    TAN 0 to 100 mg N/L, alkalinity 0 to 600 mg/L as CaCO3, phosphate 0 to 100 mg P/L, pressure 600
    to 1085 hPa at the station. `glass` says that specific gravity was read on a glass hydrometer.
    """

    temperature_c: float | None = None
    practical_salinity: float | None = None
    conductivity_ms_cm: float | None = None
    conductivity_25_ms_cm: float | None = None
    specific_gravity: float | None = None
    reference_c: float = 20.0
    glass: bool = False
    oxygen_mg_l: float | None = None
    ph: float | None = None
    ph_buffers: Buffers = "nbs"
    tan_mg_l: float | None = None
    alkalinity_mg_l: float | None = None
    phosphate_mg_l: float | None = None
    pressure_hpa: float = oxygen.ATMOSPHERE_HPA


class Figures(Struct, frozen=True):
    """The figures by name with their unit, and why; `refused` names equations that do not reach."""

    values: Mapping[str, float]
    reasons: Reasons
    cautions: tuple[str, ...]
    refused: tuple[str, ...]


NAMES: Final[tuple[str, ...]] = (
    "temperature_c", "practical_salinity", "density_kg_m3", "specific_gravity_20_20",
    "conductivity_25_ms_cm", "oxygen_saturation_mg_l", "oxygen_percent",
    "oxygen_partial_pressure_mmhg", "ph_nbs", "ph_total", "unionised_ammonia_fraction",
    "unionised_ammonia_n_mg_l", "unionised_ammonia_n_cautious_mg_l", "co2_mg_l", "dic_mmol_kg",
    "pco2_uatm", "hydrogen_sulphide_fraction",
)  # fmt: skip
_RANGES: Final = (
    ("temperature", "temperature_c", -2, 40, "degC"),
    ("salinity", "practical_salinity", 0, 42, ""),
    ("oxygen", "oxygen_mg_l", 0, 40, "mg/L"),
    ("pH", "ph", 4, 11, ""),
    ("TAN", "tan_mg_l", 0, 100, "mg N/L"),
    ("alkalinity", "alkalinity_mg_l", 0, 600, "mg/L CaCO3"),
    ("phosphate", "phosphate_mg_l", 0, 100, "mg P/L"),
    ("pressure", "pressure_hpa", 600, 1085, "hPa"),
)
_SALINITIES: Final = (
    "practical_salinity", "conductivity_ms_cm", "conductivity_25_ms_cm", "specific_gravity",
)  # fmt: skip
Found = dict[str, float]


def figures(read: Readings) -> Figures:
    """Work out every figure that follows from a set of readings.

    Args:
        read: The readings, in the ranges of `Readings`.

    Returns:
        The figures of `NAMES` that can be had, with reasons in the order applied. Where an
        equation does not reach so far, or a pair cannot be, the figure is left out and said so.

    Raises:
        ValueError: A reading outside its range; salinity from two instruments; an instrument's
            salinity without the temperature it needs.
    """
    for name, attribute, low, high, unit in _RANGES:
        value = getattr(read, attribute)
        if value is not None:
            within(name, value, low, high, unit)
    found: Found = {}
    reasons: list[Reason] = []
    cautions: list[str] = []
    refused: list[str] = []
    if read.temperature_c is not None:
        found["temperature_c"] = read.temperature_c
    salinity = _salinity(read, reasons)
    if salinity is not None:
        found["practical_salinity"] = salinity
    for name, work in _WORK.items():
        try:
            for values, why, told in work(read, found):
                found |= values
                reasons += why
                cautions += told
        except ValueError as error:
            refused.append(f"{name}: {error}")
    ordered = {name: found[name] for name in NAMES if name in found}
    return Figures(ordered, tuple(reasons), tuple(cautions), tuple(refused))


def _salinity(read: Readings, reasons: list[Reason]) -> float | None:
    given = [name for name in _SALINITIES if getattr(read, name) is not None]
    if not given:
        return None
    if len(given) > 1:
        raise ValueError(f"give one of {', '.join(name.replace('_', ' ') for name in given)}")
    value, t = getattr(read, given[0]), read.temperature_c
    if given[0] == "practical_salinity":
        return float(value)
    if given[0] == "conductivity_25_ms_cm":
        salinity, source = salinity_from_conductivity_25(value), "PSS-78 at 25 degC"
        shown = f"Conductivity {value:g} mS/cm at 25 degC"
    elif t is None:
        raise ValueError(f"{given[0].replace('_', ' ')} needs the temperature of the same water")
    elif given[0] == "conductivity_ms_cm":
        salinity, source = salinity_from_conductivity(value, t), "PSS-78, UNESCO 44, 1983"
        shown = f"Conductivity {value:g} mS/cm, not compensated, at {t:g} degC"
    else:
        turn = salinity_from_hydrometer if read.glass else salinity_from_specific_gravity
        salinity = turn(value, t, read.reference_c)
        source = "UNESCO 44, 1983, glass corrected" if read.glass else "UNESCO 44, 1983"
        shown = f"Specific gravity {value:g} over water of {read.reference_c:g} degC, at {t:g} degC"
    reasons.append(Reason("{shown}: salinity {s:.2f}", {"shown": shown, "s": salinity}, source))
    return salinity


# -- one function a group of figures, from the readings and what was found before it ---------------

Part = tuple[Found, Reasons, tuple[str, ...]]
Work = Callable[[Readings, Found], Iterator[Part]]


def _density(read: Readings, found: Found) -> Iterator[Part]:
    s, t = found.get("practical_salinity"), read.temperature_c
    if s is not None and t is not None:
        density = density_kg_m3(t, s)
        why = Reason(
            "Density {d:.2f} kg/m3 at {t:.1f} degC and salinity {s:.2f}",
            {"d": density, "t": t, "s": s},
            "UNESCO 44, 1983",
        )
        yield {"density_kg_m3": density}, (why,), ()
    if s is not None:
        gravity, conductivity = specific_gravity(20.0, s), conductivity_ms_cm(25.0, s)
        why = Reason(
            "Specific gravity {g:.4f} at 20 over 20 degC, conductivity {c:.2f} mS/cm at 25 degC",
            {"g": gravity, "c": conductivity},
            "UNESCO 44, 1983; PSS-78",
        )
        values = {"specific_gravity_20_20": gravity, "conductivity_25_ms_cm": conductivity}
        yield values, (why,), ()


def _oxygen(read: Readings, found: Found) -> Iterator[Part]:
    s, t, p = found.get("practical_salinity"), read.temperature_c, read.pressure_hpa
    if s is None or t is None:
        return
    full = oxygen.saturation_mg_l(t, s, p)
    says = "Oxygen at saturation {full:.2f} mg/L at {p:.0f} hPa"
    source = "Benson & Krause 1984, Eqs 24 and 32"
    yield {"oxygen_saturation_mg_l": full}, (Reason(says, {"full": full, "p": p}, source),), ()
    if read.oxygen_mg_l is None:
        return
    percent = oxygen.percent(read.oxygen_mg_l, t, s, p)
    partial = oxygen.partial_pressure_mmhg(percent, t, s, p)
    why = Reason(
        "{o:.2f} mg/L is {percent:.1f} % of it, {partial:.0f} mmHg",
        {"o": read.oxygen_mg_l, "percent": percent, "partial": partial},
        "vapour: Weiss & Price 1980",
    )
    yield {"oxygen_percent": percent, "oxygen_partial_pressure_mmhg": partial}, (why,), ()


def _ph(read: Readings, found: Found) -> Iterator[Part]:
    if read.ph is None:
        return
    yield {f"ph_{read.ph_buffers}": read.ph}, (), ()
    s, t = found.get("practical_salinity"), read.temperature_c
    if s is None or t is None or s < LEAST_SALINITY:
        return
    shift = nbs_above_total(t, s)
    other = read.ph - shift if read.ph_buffers == "nbs" else read.ph + shift
    name = "total" if read.ph_buffers == "nbs" else "nbs"
    yield (
        {f"ph_{name}": other},
        (
            Reason(
                "pH {ph:.2f} with {buffers} buffers is {other:.2f} on the {name} scale",
                {"ph": read.ph, "buffers": read.ph_buffers, "other": other, "name": name},
                "Takahashi et al. 1982",
            ),
        ),
        (),
    )


def _ammonia(read: Readings, found: Found) -> Iterator[Part]:
    s, t = found.get("practical_salinity"), read.temperature_c
    if s is None or t is None or read.ph is None:
        return
    toxic = un_ionised(read.tan_mg_l or 0.0, t, s, read.ph, read.ph_buffers)
    values = {"unionised_ammonia_fraction": toxic.fraction}
    if read.tan_mg_l is None:
        why = Reason(
            "{part:.2f} % of TAN is un-ionised", {"part": 100 * toxic.fraction}, toxic.method
        )
        yield values, (why,), ()
        return
    values["unionised_ammonia_n_mg_l"] = toxic.value_mg_l
    values["unionised_ammonia_n_cautious_mg_l"] = toxic.cautious_mg_l
    told = "Un-ionised ammonia is at most this: the fresh-water equation in brackish water."
    yield values, toxic.reasons, (told,) if toxic.at_most else ()


def _carbonate(read: Readings, found: Found) -> Iterator[Part]:
    s, t = found.get("practical_salinity"), read.temperature_c
    if s is None or t is None or read.ph is None or read.alkalinity_mg_l is None:
        return
    c = co2(read.alkalinity_mg_l, read.ph, t, s, read.ph_buffers, read.phosphate_mg_l)
    values = {"co2_mg_l": c.co2_mg_l, "dic_mmol_kg": c.dic_mmol_kg, "pco2_uatm": c.pco2_uatm}
    told = []
    if c.doubtful:
        told.append("CO2 above 60 mg/L: measure pH and alkalinity again, check the pH meter.")
    if c.at_most:
        told.append("CO2 is at most this: the fresh-water equation in brackish water.")
    yield values, c.reasons, tuple(told)


def _sulphide(read: Readings, found: Found) -> Iterator[Part]:
    s, t, ph = found.get("practical_salinity"), read.temperature_c, found.get("ph_total")
    if s is None or t is None or ph is None:
        return
    part = hydrogen_sulphide_fraction(t, s, ph)
    why = Reason("{part:.1f} % of sulphide is H2S", {"part": 100 * part}, "Millero et al. 1988")
    yield {"hydrogen_sulphide_fraction": part}, (why,), ()


_WORK: Final[dict[str, Work]] = {
    "density": _density,
    "oxygen": _oxygen,
    "pH": _ph,
    "ammonia": _ammonia,
    "carbon dioxide": _carbonate,
    "sulphide": _sulphide,
}
