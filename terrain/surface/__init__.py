"""Floor 3: surfaces z(x, y), the moving outline, the overlay of two surfaces, TINs."""
