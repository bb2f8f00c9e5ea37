"""The water of a loop: what to add to it, and how long it lasts."""
