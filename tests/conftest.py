"""Settings of all tests: reproducible examples, and no time limit for a single one."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize="CI" in os.environ, print_blob=True)
settings.load_profile("house")
