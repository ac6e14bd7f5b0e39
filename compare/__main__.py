"""The installed command, and `python -m compare`."""

import sys

STOPPED = 130


def main() -> int:
    """Run the program; one that is stopped while it still loads ends as one stopped later does."""
    try:
        from compare.cli import main as run

        return run()
    except KeyboardInterrupt:
        return STOPPED


if __name__ == "__main__":
    sys.exit(main())
