"""Sections of lines as text, or as Markdown that foreign text cannot steer, and their files."""

from __future__ import annotations

import os
import re
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Final, NamedTuple

from rounds.text import MAX_TEXT, clean

WIDTH: Final = 80
_INLINE: Final = re.compile(r"([\\`*_\[\]<>|~&$])")
_LEADING: Final = re.compile(r"^(\s*)([#+\-=]|\d{1,9}(?=[.)]))")


class Section(NamedTuple):
    """A titled list of lines; `empty` is printed where there is none."""

    title: str
    lines: Sequence[str]
    empty: str = "Nothing."


def text(head: Sequence[str], sections: Sequence[Section]) -> str:
    """Print lines and sections as plain text, 80 columns wide.

    Args:
        head: Lines above the sections.
        sections: The sections, in order.

    Returns:
        Text that ends in a line break; every line is clean.
    """
    out = [folded(line) for line in head]
    for section in sections:
        out += ["", folded(section.title.upper())]
        out += [folded(line, "  ", "    ") for line in section.lines or (section.empty,)]
    return "\n".join(out) + "\n"


def folded(line: str, first: str = "", further: str = "") -> str:
    """Return one clean line, folded to 80 columns; blanks inside it are kept."""
    cleaned = clean(line, limit=MAX_TEXT)
    if len(first) + len(cleaned) <= WIDTH:
        return f"{first}{cleaned}"
    return textwrap.fill(cleaned, WIDTH, initial_indent=first, subsequent_indent=further)


def markdown(head: Sequence[str], sections: Sequence[Section]) -> str:
    """Print lines and sections as Markdown: the first line a heading, the others a paragraph each.

    Args:
        head: Lines above the sections.
        sections: The sections, in order.

    Returns:
        Markdown in which no foreign text makes a heading, a link, a picture or markup.
    """
    title, *others = head or ("",)
    out = [f"# {escaped(title)}", ""]
    for line in others:
        out += [escaped(line), ""]
    for section in sections:
        out += [f"## {escaped(section.title)}", ""]
        out += [f"- {escaped(line)}" for line in section.lines or (section.empty,)]
        out.append("")
    return "\n".join(out)


def escaped(foreign: str) -> str:
    """Return text as Markdown that shows it as it is, on one line, without links or markup."""
    line = _INLINE.sub(r"\\\1", clean(foreign, limit=MAX_TEXT))
    line = _LEADING.sub(lambda found: _unlisted(found.group(1), found.group(2)), line)
    line = re.sub(r"(?i)\b(https?|ftp|mailto|xmpp):", r"\1\\:", line)
    line = re.sub(r"(?i)\bwww\.", lambda found: f"{found.group()[:-1]}\\.", line)
    return re.sub(r"@(?=\w)", "@<!-- -->", line)


def _unlisted(blank: str, mark: str) -> str:
    return f"{blank}{mark}\\" if mark.isdigit() else f"{blank}\\{mark}"


def keep(folder: Path, name: str, ending: str, text: str) -> Path:
    """Keep a document as a file of the site's reports; nothing is ever overwritten.

    Args:
        folder: The site's folder.
        name: What it is and for which day.
        ending: Without the dot.
        text: The whole of it.

    Returns:
        reports/<name>-<n>.<ending>, with the next free number.

    Raises:
        OSError: The file cannot be written.
    """
    reports = folder / "reports"
    reports.mkdir(exist_ok=True)
    number = 1
    while True:
        path = reports / f"{name}-{number}.{ending}"
        try:
            file = path.open("x", encoding="utf-8", newline="\n")
        except FileExistsError:
            number += 1
            continue
        with file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        return path
