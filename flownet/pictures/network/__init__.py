"""The network: places as boxes and what joins them as lines."""
