"""The calls that solve: `solve`, `solve_many`, `operating_points`; executor and progress."""
