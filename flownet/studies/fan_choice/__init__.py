"""Which fan type serves at a place, and what excludes the others."""
