"""Run the command line as `python -m spreadsim`."""

import sys

from spreadsim.cli import main

if __name__ == "__main__":
    sys.exit(main())
