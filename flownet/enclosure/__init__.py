"""What the engineer describes: frozen things that know their own keys, and the whole enclosure."""
