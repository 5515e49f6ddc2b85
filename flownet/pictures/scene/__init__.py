"""Pictures as plain geometry: shapes, words, and what both maps and networks are made of."""
