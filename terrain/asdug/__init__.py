"""Floor 6: shots of the work against the design: as graded, piles of spoil, soil as measured."""
