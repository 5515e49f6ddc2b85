"""Fans against what the network asks of them; fan curves on their own."""
