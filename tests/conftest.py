"""Settings of all tests: reproducible examples, and no time limit for a single one."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "house",
    deadline=None,
    derandomize="CI" in os.environ,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],  # on a new machine the first draw compiles kernels
)
settings.load_profile("house")
