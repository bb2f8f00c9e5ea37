"""A figure told in words: a headline, what stands under it, why. Printed, or opened on a screen."""

from __future__ import annotations

from msgspec import Struct

from rounds.reason import Reasons


class Told(Struct, frozen=True):
    """What one row of a sheet says."""

    title: str
    says: tuple[str, ...]
    reasons: Reasons


def measured(missing: tuple[str, ...], cautions: tuple[str, ...]) -> tuple[str, ...]:
    """Return what to measure and what to mind, a line each."""
    return (*(f"measure: {text}" for text in missing), *(f"! {text}" for text in cautions))
