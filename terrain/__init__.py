"""Terrain-aware earth volumes for house basements: shots in, a ledger by wall out."""
