"""Floor 1: errors, units, the local frame and tolerances. Imports nothing of ours."""
