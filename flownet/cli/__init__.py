"""The command `flownet`: one grammar, `flownet VERB CASE [SUBJECT] [options]`."""

from flownet.cli.group import main

__all__ = ["main"]
