"""Slow, obvious answers that share no code with the engine: shapely, fractions, brute force."""
