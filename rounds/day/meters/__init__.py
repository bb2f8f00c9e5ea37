"""What speaks against a meter."""
