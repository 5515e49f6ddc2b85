"""What the engineer describes: frozen things that know their own keys, and the whole enclosure."""

# the order in which kinds are known, whoever imports what first
from flownet.enclosure import heat, branches, fans, surroundings  # isort: skip

__all__ = ["branches", "fans", "heat", "surroundings"]
