"""The command `flownet`: one grammar, `flownet VERB CASE [SUBJECT] [options]`."""


def main() -> None:
    """The console entry point."""
    from flownet.cli.group import commands  # noqa: PLC0415 - its modules are parts of this package

    commands.main()
