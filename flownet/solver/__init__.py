"""How it is solved: knows the equations by their residual and its derivatives."""
