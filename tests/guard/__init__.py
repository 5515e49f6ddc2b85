"""A guard of our own output while the package is rebuilt: what it says before and after, compared.

It proves nothing about the physics; the tests do that. It is no part of the suite. See
`python -m tests.guard --help`.
"""
