"""What every dose tells besides its figures: the words on the sheet, and the reasons behind it."""

from __future__ import annotations

from msgspec import Struct

from rounds.reason import Reasons


class Advice(Struct, frozen=True, kw_only=True):
    """The words of a dose. `refused` says why there is none; `expect` what the meters will show."""

    expect: str
    how: tuple[str, ...]
    measure_after: tuple[str, ...]
    cautions: tuple[str, ...]
    refused: tuple[str, ...]
    reasons: Reasons
