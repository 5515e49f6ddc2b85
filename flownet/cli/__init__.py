"""The command `flownet`: one grammar, `flownet VERB CASE [SUBJECT] [options]`."""


def main() -> None:
    """The console entry point."""
    try:  # its modules are parts of this package
        from flownet.cli.group import commands  # noqa: PLC0415
    except KeyboardInterrupt:  # before anything was begun
        raise SystemExit(130) from None
    commands.main()
