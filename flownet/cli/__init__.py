"""The command `flownet`: one grammar, `flownet VERB CASE [SUBJECT] [options]`."""


def main() -> None:
    """The console entry point."""
    try:
        from flownet.cli.group import commands  # noqa: PLC0415 - it imports parts of this package
    except KeyboardInterrupt:  # before anything was begun
        raise SystemExit(130) from None
    commands.main()
