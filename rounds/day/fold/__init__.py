"""What the book says of the farm: entries folded into its state, day by day."""
