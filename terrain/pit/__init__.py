"""Floor 4: foundation, levels and sides to a dig surface and the closed solid."""
