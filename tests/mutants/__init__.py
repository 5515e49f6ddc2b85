"""How many single faults the tests catch; see `python -m tests.mutants --help`."""
