"""The fixtures of the screens' tests."""

from screens_hand import clock, site, stocked

__all__ = ["clock", "site", "stocked"]
