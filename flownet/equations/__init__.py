"""What is solved: laws, elements, topology, the one residual, and the results read from a state."""
