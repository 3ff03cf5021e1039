"""What is found in the samples and proposed for them, once for each process of tests."""

from __future__ import annotations

from functools import cache

from ventplanner import resources
from ventplanner.analysis.findings import Findings, analyse
from ventplanner.io.meshes import read
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose


@cache
def findings(name: str) -> Findings:
    """As it lies in its file, on supports."""
    return analyse(read(resources.sample(name)))


@cache
def proposed(name: str) -> Plan:
    """By the usual rules."""
    return propose(findings(name))
