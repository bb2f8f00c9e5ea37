"""What every tank is fed today, and what holds it back."""
