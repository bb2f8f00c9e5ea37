"""Rounds: the technician's day on a small marine fish farm, offline, in a terminal."""

__version__ = "0.1.0"
