"""Results as text and JSON; sees results only."""
