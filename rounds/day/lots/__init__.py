"""Lots of fish: how they grow, die, are moved and sold, and the room they have."""
