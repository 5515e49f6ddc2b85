"""Studies: many solves of one enclosure, or one solve and its derivatives, for a decision."""
