"""Emergency cards."""

from __future__ import annotations

from typing import Final

CARDS: Final = (
    "power-cut",
    "low-oxygen",
    "pump-stopped",
    "chlorine",
    "sulphide",
    "heat",
    "leak",
    "person-hurt",
)
