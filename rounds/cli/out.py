"""What a command prints: plain lines of at most 80 columns, or JSON. No colour at all."""

from __future__ import annotations

import math
import sys
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from msgspec import Struct
from msgspec.structs import asdict

from rounds.reason import Reason, render
from rounds.records.entry import stamp
from rounds.reports.told import Told
from rounds.text import MAX_TEXT, clean, plain

if TYPE_CHECKING:
    from rounds.site.model import Site

WIDTH: Final = 80
FORMAT: Final = 1


def say(*lines: str, indent: int = 0, hang: int = 0) -> None:
    """Print lines, cleaned, each folded to 80 columns; `hang` indents what is folded further."""
    for line in lines:
        kept = line[: len(line) - len(line.lstrip(" "))]
        first = " " * indent + kept
        text = clean(line, limit=MAX_TEXT)
        sys.stdout.write(
            textwrap.fill(
                text, WIDTH, initial_indent=first, subsequent_indent=first + " " * hang,
                break_on_hyphens=False,
            ).rstrip()
            + "\n"
            if text and len(first) + len(text) > WIDTH
            else f"{first}{text}".rstrip() + "\n"
        )  # fmt: skip


def block(text: str) -> None:
    """Print a text of several lines that is laid out already, cleaned line by line."""
    for line in text.rstrip("\n").split("\n"):
        sys.stdout.write(_kept(line) + "\n")


def why(reasons: Sequence[Reason], display: str) -> None:
    """Print the reasons of a figure, in order."""
    for reason in reasons:
        say(f"  - {render(reason, display)}", hang=2)


def tell(told: Told, display: str) -> None:
    """Print a row of a sheet: its headline, what stands under it, its reasons."""
    say(told.title, hang=4)
    for text in told.says:
        say(f"  {text}", hang=2)
    why(told.reasons, display)


def emit(
    command: str, rows: Iterable[object], site: Site | None = None, at: datetime | None = None
) -> None:
    """Print rows as JSON, in the form that never changes; where it is of no site, metric."""
    import json

    display = site.display_units if site else "metric"
    data = {
        "format": FORMAT,
        "site": site.id if site else "",
        "at": stamp(at or datetime.now(UTC)),
        "command": command,
        "rows": [row(one, display) for one in rows],
    }
    json.dump(data, sys.stdout, ensure_ascii=False, allow_nan=False, indent=1)
    sys.stdout.write("\n")


def row(value: object, display: str) -> Any:
    """Return a value as JSON holds it: numbers as numbers, reasons as rendered lines."""
    if isinstance(value, Reason):
        return clean(render(value, display), limit=MAX_TEXT)
    if isinstance(value, str):
        return clean(value, limit=MAX_TEXT, newlines=True)
    if isinstance(value, bool | int | None):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Decimal):
        return float(plain(value))
    if isinstance(value, datetime):
        return stamp(value)
    if isinstance(value, date | Path):
        return str(value)
    if isinstance(value, Mapping):
        return {str(key): row(one, display) for key, one in value.items()}
    if isinstance(value, Struct):
        return {name: row(one, display) for name, one in asdict(value).items()}
    if isinstance(value, Iterable):
        return [row(one, display) for one in value]
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def _kept(line: str) -> str:
    start = line[: len(line) - len(line.lstrip(" "))]
    return (start + clean(line, limit=MAX_TEXT)).rstrip()
