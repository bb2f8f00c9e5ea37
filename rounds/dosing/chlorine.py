"""Thiosulfate against chlorine in make-up water, and how far a colour test can be trusted."""

from __future__ import annotations

from typing import Final

from rounds.dosing.advice import Advice
from rounds.reason import Reason
from rounds.units import Amount
from rounds.water.forms import NITROGEN_G_MOL
from rounds.water.ranges import within

PENTAHYDRATE_G_MOL: Final = 248.172  # Na2S2O3.5H2O
ANHYDROUS_G_MOL: Final = 158.097  # Na2S2O3
CHLORINE_G_MOL: Final = 70.90  # Cl2
PRACTICE_G_PER_G: Final = 7.0  # laboratory practice, the tetrathionate reaction
ANHYDROUS_PER_PENTAHYDRATE: Final = ANHYDROUS_G_MOL / PENTAHYDRATE_G_MOL
AMMONIA_N_PER_CHLORINE: Final = NITROGEN_G_MOL / CHLORINE_G_MOL  # freed from chloramine, per Cl2
EPA_CHRONIC_MG_L: Final = 0.0075  # saltwater criterion, US EPA


class ChlorineDose(Advice, frozen=True, kw_only=True):
    """Sodium thiosulfate for one batch of make-up water."""

    mass_g: float
    pentahydrate: bool
    ammonia_freed_mg_l: float

    @property
    def after(self) -> dict[str, float]:
        """What is in the water after it, if all the chlorine was chloramine."""
        return {"chlorine_mg_l": 0.0, "ammonia_freed_n_mg_l": self.ammonia_freed_mg_l}


def pentahydrate_g_per_g(chlorine_mol_per_mol: float) -> float:
    """Return grams of thiosulfate pentahydrate per gram of chlorine by a reaction.

    Args:
        chlorine_mol_per_mol: Moles of Cl2 one mole of thiosulfate takes up: 0.5 to tetrathionate,
            1 to sulfur, 4 to sulfate.

    Returns:
        g/g: 7.00, 3.50 and 0.875.

    Raises:
        ValueError: Outside 0.5 to 4.

    Source: molar masses 248.17 and 70.90.
    """
    within("chlorine per thiosulfate", chlorine_mol_per_mol, 0.5, 4, "mol/mol")
    return PENTAHYDRATE_G_MOL / CHLORINE_G_MOL / chlorine_mol_per_mol


def thiosulfate_g(
    volume_m3: float, chlorine_mg_l: float, g_per_g: float = PRACTICE_G_PER_G
) -> float:
    """Return grams of thiosulfate pentahydrate that take up the chlorine.

    Args:
        volume_m3: 0 to 100,000 m3.
        chlorine_mg_l: Total chlorine as Cl2, 0 to 20 mg/L.
        g_per_g: Grams of product per gram of chlorine, 0.5 to 10.

    Returns:
        Grams.

    Raises:
        ValueError: Outside the range.

    Source: volume x chlorine x ratio.
    """
    within("volume", volume_m3, 0, 100_000, "m3")
    within("chlorine", chlorine_mg_l, 0, 20, "mg/L")
    within("ratio", g_per_g, 0.5, 10, "g/g")
    return volume_m3 * chlorine_mg_l * g_per_g


def neutralise_chlorine(
    *, volume_m3: float, chlorine_mg_l: float, pentahydrate: bool = True, stocked: bool = False
) -> ChlorineDose:
    """Return the thiosulfate for a batch of make-up water, and what a zero test is worth.

    Args:
        volume_m3: Of the batch, 0.001 to 100,000 m3.
        chlorine_mg_l: Total chlorine as Cl2, 0 to 20 mg/L.
        pentahydrate: The crystals; False for the anhydrous powder.
        stocked: Fish are already in it: the source is stopped first.

    Returns:
        The dose; 0 g when no chlorine was found.

    Raises:
        ValueError: Outside the range.

    Source: 7 g pentahydrate per g chlorine, laboratory practice; US EPA saltwater criterion.
    """
    within("volume", volume_m3, 0.001, 100_000, "m3")
    mass = thiosulfate_g(volume_m3, chlorine_mg_l)
    if not pentahydrate:
        mass *= ANHYDROUS_PER_PENTAHYDRATE
    freed = chlorine_mg_l * AMMONIA_N_PER_CHLORINE
    cautions = [
        f"A zero test is needed but no proof: harm begins near {1000 * EPA_CHRONIC_MG_L:g} ug/L, "
        "below any colour. Aerate, wait, test again.",
    ]
    if chlorine_mg_l:
        cautions.append(
            f"If the supply uses chloramine, up to {freed:.2f} mg N/L ammonia is freed: test TAN."
        )
    if stocked:
        cautions.insert(0, "If fish are in it, stop the source first, aerate, call the supervisor.")
    form = "pentahydrate" if pentahydrate else "anhydrous"
    return ChlorineDose(
        mass_g=mass,
        pentahydrate=pentahydrate,
        ammonia_freed_mg_l=freed,
        expect="Total chlorine zero after mixing." if mass else "No thiosulfate needed.",
        how=(
            "Goggles on, no acid near. Dissolve it in a bucket of fresh water.",
            "Pour it into the batch with the air on and mix for ten minutes before testing.",
        )
        if mass
        else (),
        measure_after=(
            "Total chlorine after 10 minutes and again after an hour: at any colour do not use the "
            "water, call the supervisor.",
        ),
        cautions=tuple(cautions),
        refused=(),
        reasons=(
            Reason(
                "{volume:.2f} x {chlorine:.2f} mg/L x {ratio:.2f} g/g = {mass:.2f} thiosulfate, "
                "{form}",
                {
                    "volume": Amount(volume_m3, "m^3"),
                    "chlorine": chlorine_mg_l,
                    "ratio": PRACTICE_G_PER_G * (1 if pentahydrate else ANHYDROUS_PER_PENTAHYDRATE),
                    "mass": Amount(mass, "g"),
                    "form": form,
                },
                "laboratory practice, tetrathionate reaction",
            ),
        ),
    )
