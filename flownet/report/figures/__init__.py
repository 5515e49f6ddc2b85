"""The map and the network, painted with matplotlib."""
