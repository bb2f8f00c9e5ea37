"""What was done: entries, segments, the book, sync. Nothing here knows what an entry means."""
