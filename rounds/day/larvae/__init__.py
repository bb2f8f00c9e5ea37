"""Larvae and the live food grown for them."""
