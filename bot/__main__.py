"""The command `bucketside`: arguments only; heavy imports where they are used."""

import argparse
import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Runs a subcommand and returns its exit status."""
    parser = argparse.ArgumentParser(
        prog="bucketside", description="A household makes wine from kits together, in one chat."
    )
    parser.add_subparsers(dest="command", required=True)
    parser.parse_args(argv)
    return 0


if __name__ == "__main__":
    sys.exit(main())
