"""The fixtures of the screens' tests."""

from screens_hand import clock, falling, site, stocked

__all__ = ["clock", "falling", "site", "stocked"]
