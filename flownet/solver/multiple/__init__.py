"""How states are many: the flow states of fans with a dip, and which of them time reaches."""
