"""Floor 5: rows by wall and part, soil states, doubt and cautions."""
