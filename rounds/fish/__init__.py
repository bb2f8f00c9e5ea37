"""What fish eat, breathe and become: pure functions of floats, with the unit in the name."""
