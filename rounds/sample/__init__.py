"""Makes invented histories: a sample farm with three weeks of entries in the book's own format."""
