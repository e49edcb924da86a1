"""Run the command line as `python -m spreadsim`."""

import sys

from spreadsim.cli import main


def run() -> None:
    """Run and leave with the exit code."""
    sys.exit(main())


if __name__ == "__main__":
    run()
