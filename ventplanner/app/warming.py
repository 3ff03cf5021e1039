"""The inner loops made ready one by one: a first start compiles them, which takes seconds and must not look dead."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

from ventplanner import compile_cache
from ventplanner.progress import Progress, silent

FIRST_START = "Once after an installation, some fifteen seconds"
GETTING_READY = "Getting ready"

# Reading a file needs one inner loop only: with that the part can be shown while the others are compiled.
_FIRST = ("ventplanner.io.meshes",)
LATER = ("closest_kernels", "contour_kernels", "crossing_kernels", "side_kernels", "solid_angle_kernels")
"""Modules of loops that hollowing and mending alone need: they are compiled when it is first asked for."""
# What the work itself imports once the inner loops are there.
_WORK = ("ventplanner.analysis.findings", "ventplanner.plan.placement", "ventplanner.app.jobs", "ventplanner.app.left")


def warm(progress: Progress = silent) -> None:
    """Import all modules with compiled loops, and those that use them; costs nothing when it was done before."""
    phase = FIRST_START if compile_cache.is_cold() else GETTING_READY
    modules = [*_FIRST, *_kernel_modules(), *_WORK]
    for k, name in enumerate(modules):
        progress(phase, k / len(modules))
        import_module(name)
    progress(phase, 1.0)


def _kernel_modules() -> list[str]:
    folder = Path(compile_cache.__file__).parent
    names = [file.relative_to(folder).with_suffix("").parts for file in compile_cache.kernel_sources()]
    return [".".join(("ventplanner", *parts)) for parts in names if parts[-1] not in ("jit", *LATER)]
