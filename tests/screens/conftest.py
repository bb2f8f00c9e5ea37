"""The fixtures of the screens' tests."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from unittest.mock import patch

import pytest
from screens_hand import clock, falling, site, stocked
from textual.css.stylesheet import Stylesheet

__all__ = ["clock", "falling", "site", "stocked"]


@pytest.fixture(scope="session", autouse=True)
def styled_once() -> Iterator[None]:
    """Parse each style sheet once for the same colours: every app and change of colours does."""
    real = Stylesheet._parse_rules
    parsed: dict[object, Any] = {}

    def once(self: Stylesheet, *given: Any, **named: Any) -> Any:
        key = (*self._variables.items(), given, *named.items())
        if key not in parsed:
            parsed[key] = real(self, *given, **named)
        return parsed[key]

    with patch.object(Stylesheet, "_parse_rules", once):
        yield
