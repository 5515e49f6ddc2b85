"""Pictures as plain geometry, so that more than one painter can paint them."""
