"""What to add to a body of water: alkalis, salt, water, thiosulfate; safely and with reasons."""
