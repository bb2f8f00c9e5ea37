"""Finds what ships with the program, in a wheel as in a clone."""

from __future__ import annotations

from pathlib import Path
from typing import Final, Literal

Shipped = Literal["checklists", "sample_site", "species"]

_PACKAGE: Final = Path(__file__).resolve().parent.parent


def shipped(what: Shipped) -> Path:
    """Return the folder that ships under this name.

    A wheel carries `checklists` and `sample_site` under `rounds/_shipped`; in a clone or an
    editable install they lie beside the package. Species always lie in the package.

    Args:
        what: "checklists", "sample_site" or "species".

    Returns:
        An existing folder.

    Raises:
        FileNotFoundError: The installation is incomplete.
    """
    inside = _PACKAGE / ("site" if what == "species" else "_shipped") / what
    for folder in (inside, _PACKAGE.parent / what):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"{what} is missing from this installation: install rounds again")
