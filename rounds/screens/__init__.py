"""What a technician sees and types: one file a screen, its style sheet beside it."""
