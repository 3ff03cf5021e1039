"""Finds every hollow of a resin print that cannot breathe, places the vents, and drills them.

    >>> import ventplanner
    >>> findings = ventplanner.analyse(ventplanner.read("part.stl"))
    >>> [(cavity.id, cavity.state) for cavity in findings.cavities]
    [('A', 'sealed')]
    >>> plan = ventplanner.propose(findings)
    >>> [vent.kind for vent in plan.vents]
    ['vent', 'vent']
    >>> exported = ventplanner.write(ventplanner.drill(findings.part, plan), "vented.stl")
    >>> [(cavity.id, cavity.state) for cavity in exported.after.cavities]
    [('A', 'breathing')]

Names are resolved when they are first used: importing this package costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings, analyse
    from ventplanner.analysis.inside import Inside, look_inside
    from ventplanner.app.exporting import Exported, write
    from ventplanner.draining.model import Drained
    from ventplanner.draining.planning import drain
    from ventplanner.errors import VentplannerError
    from ventplanner.flow.ground import Ground, ground
    from ventplanner.flow.model import Flow
    from ventplanner.flow.suction import breathe
    from ventplanner.geometry.outline import Outline
    from ventplanner.geometry.pose import Pose
    from ventplanner.geometry.solid import Solid
    from ventplanner.hollowing.hollow import Hollowed, hollow
    from ventplanner.hollowing.rules import HollowRules
    from ventplanner.io.meshes import read
    from ventplanner.mending.mend import Mended, mend
    from ventplanner.mending.rules import MendRules
    from ventplanner.options import AnalysisOptions, VentRules
    from ventplanner.orienting.model import Wanted
    from ventplanner.orienting.search import orient
    from ventplanner.plan.drilling import Drilled, drill
    from ventplanner.plan.model import Countersink, NoVent, Plan, Vent
    from ventplanner.plan.placement import propose
    from ventplanner.plan.venting import holes_of, tools_of
    from ventplanner.printed.engine import AsPrinted, as_printed
    from ventplanner.profile import Profile

__version__ = "0.1.0"

__all__ = [
    "AnalysisOptions",
    "AsPrinted",
    "Countersink",
    "Drained",
    "Drilled",
    "Exported",
    "Findings",
    "Flow",
    "Ground",
    "HollowRules",
    "Hollowed",
    "Inside",
    "MendRules",
    "Mended",
    "NoVent",
    "Outline",
    "Plan",
    "Pose",
    "Profile",
    "Solid",
    "Vent",
    "VentRules",
    "VentplannerError",
    "Wanted",
    "__version__",
    "analyse",
    "as_printed",
    "breathe",
    "drain",
    "drill",
    "ground",
    "holes_of",
    "hollow",
    "look_inside",
    "mend",
    "orient",
    "propose",
    "read",
    "tools_of",
    "write",
]

_HOME = {
    "AnalysisOptions": "ventplanner.options",
    "AsPrinted": "ventplanner.printed.engine",
    "Countersink": "ventplanner.plan.model",
    "Drained": "ventplanner.draining.model",
    "Drilled": "ventplanner.plan.drilling",
    "Exported": "ventplanner.app.exporting",
    "Findings": "ventplanner.analysis.findings",
    "Flow": "ventplanner.flow.model",
    "Ground": "ventplanner.flow.ground",
    "HollowRules": "ventplanner.hollowing.rules",
    "Hollowed": "ventplanner.hollowing.hollow",
    "Inside": "ventplanner.analysis.inside",
    "MendRules": "ventplanner.mending.rules",
    "Mended": "ventplanner.mending.mend",
    "NoVent": "ventplanner.plan.model",
    "Outline": "ventplanner.geometry.outline",
    "Plan": "ventplanner.plan.model",
    "Pose": "ventplanner.geometry.pose",
    "Profile": "ventplanner.profile",
    "Solid": "ventplanner.geometry.solid",
    "Vent": "ventplanner.plan.model",
    "VentRules": "ventplanner.options",
    "VentplannerError": "ventplanner.errors",
    "Wanted": "ventplanner.orienting.model",
    "analyse": "ventplanner.analysis.findings",
    "as_printed": "ventplanner.printed.engine",
    "breathe": "ventplanner.flow.suction",
    "drain": "ventplanner.draining.planning",
    "drill": "ventplanner.plan.drilling",
    "ground": "ventplanner.flow.ground",
    "holes_of": "ventplanner.plan.venting",
    "hollow": "ventplanner.hollowing.hollow",
    "look_inside": "ventplanner.analysis.inside",
    "mend": "ventplanner.mending.mend",
    "orient": "ventplanner.orienting.search",
    "propose": "ventplanner.plan.placement",
    "read": "ventplanner.io.meshes",
    "tools_of": "ventplanner.plan.venting",
    "write": "ventplanner.app.exporting",
}


def __getattr__(name: str) -> object:
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value: object = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
