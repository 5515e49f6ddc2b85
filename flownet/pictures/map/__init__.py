"""The map: an enclosure drawn to scale."""
