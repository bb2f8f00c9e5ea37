"""Other laptops: who was not heard, whose site files differ."""
