"""The pond: its stock, its crops, what tanks need of it."""
