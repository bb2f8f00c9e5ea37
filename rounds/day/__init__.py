"""What it means: the farm as the fold of its book, and the judgement of it."""
