"""`python -m flownet`: the same as the command `flownet`."""

from flownet.cli import main

main()
