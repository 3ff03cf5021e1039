"""Runs the program as `python -m ventplanner`."""

from __future__ import annotations

import sys

from ventplanner.cli import main

if __name__ == "__main__":
    sys.exit(main())
