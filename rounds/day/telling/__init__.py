"""What is told of the farm: board, hand-off, trends."""
