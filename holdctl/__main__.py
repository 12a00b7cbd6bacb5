"""`python -m holdctl`: the same as the command `holdctl`."""

from holdctl.cli import main

main()
