"""What one reading means: its verdict, what is worked out from it, what speaks against it."""
