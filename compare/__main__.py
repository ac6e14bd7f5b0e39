"""Lets `python -m compare` do what the installed command does."""

import sys

from compare.cli import main

if __name__ == "__main__":
    sys.exit(main())
