"""What other programs need of a solution: boundary conditions, the network, all results."""
