"""The forms of what happens besides a walk, and the entries they make."""
