"""The command `flownet`: one grammar, `flownet VERB CASE [SUBJECT] [options]`."""

import gc

CYCLES_SOUGHT = (10_000, 20, 20)  # results hold hardly any: looking takes a tenth of the time else


def main() -> None:
    """The console entry point."""
    gc.set_threshold(*CYCLES_SOUGHT)
    try:
        from flownet.cli.group import commands  # noqa: PLC0415 - it imports parts of this package
    except KeyboardInterrupt:  # before anything was begun
        raise SystemExit(130) from None
    commands.main()
