"""Floor 4: the finished lot: limits swept out from the house, pads, swales, areas kept."""
