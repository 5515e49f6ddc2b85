"""What every part of the house speaks in: quantities, units, keys and how they are checked."""
