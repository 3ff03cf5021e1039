"""Runs the command line as `python -m ventplanner`."""

from __future__ import annotations

import sys

from ventplanner.cli import main

sys.exit(main())
