"""Values that the tests of the plan, its edits and its file share: a small part, vents, and all plans there can be."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import strategies as st

from ventplanner import parameters as p
from ventplanner.errors import ParameterError
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Body, Solid, Source
from ventplanner.io.plan_json import SavedPlan
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules, Weights
from ventplanner.plan.model import NoVent, Passage, Plan, Vent
from ventplanner.profile import Profile
from ventplanner.profile_parameters import PROFILE_PARAMETERS
from ventplanner.weight_parameters import WEIGHTS


def wedge(path: str = "whelk.stl", scale: float = 1.0) -> Solid:
    """A tetrahedron: the smallest part there is."""
    corners = np.array([[0.0, 0, 0], [30, 0, 0], [0, 20, 0], [0, 0, 10]]) * scale
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    return Solid(corners, faces, source=Source(path, "stl-binary", None, "mm", scale, "", True))


def vent(vent_id: str = "2", x: float = 1.0, **changes: object) -> Vent:
    """A plain vent upwards through a wall of 2 mm, entering at (x, 0, 0)."""
    values: dict[str, object] = {
        "id": vent_id,
        "cavity": "A",
        "cup": "A1",
        "kind": "vent",
        "entry_mm": (x, 0.0, 0.0),
        "exit_mm": (x, 0.0, 2.0),
        "axis": (0.0, 0.0, 1.0),
        "diameter_mm": 2.5,
        "wall_mm": 2.0,
        "before_mm": 0.5,
        "beyond_mm": 0.5,
        "reason": "lowest point of cup A1",
    }
    return Vent(**{**values, **changes})  # type: ignore[arg-type]


finite = st.floats(-1e6, 1e6)
lengths = st.floats(0.0, 1e3)
points = st.tuples(finite, finite, finite)
texts = st.text(st.characters(codec="utf-8"), max_size=20)
units = st.sampled_from(["mm", "cm", "inch", "m", "micron", "foot"])
axes = (
    st.tuples(*(st.floats(-1, 1),) * 3)
    .filter(lambda v: np.linalg.norm(v) > 1e-3)
    .map(lambda v: tuple(float(x) for x in np.asarray(v) / np.linalg.norm(v)))
)


def vents(ids: st.SearchStrategy[str] = texts) -> st.SearchStrategy[Vent]:
    diameters = st.floats(1e-3, 1e3)
    kinds = st.sampled_from(["vent", "widen"])
    return st.builds(
        Vent, ids, texts, texts, kinds, points, points, axes, diameters, lengths, lengths, lengths, reason=texts
    )


def passages() -> st.SearchStrategy[Passage]:
    apart = st.lists(points, min_size=2, max_size=3).map(tuple)
    apart = apart.filter(lambda ps: all(math.dist(a, b) > 1e-3 for a, b in pairwise(ps)))
    diameters = st.floats(1e-3, 1e3)
    inside = st.builds(Passage, texts, texts, texts, texts, apart, diameters, finite, lengths, lengths, reason=texts)
    return st.builds(_going_out, inside, st.none() | vents())


def _going_out(passage: Passage, out: Vent | None) -> Passage:
    """A passage with a way out as wide as itself."""
    if out is None:
        return passage
    own = replace(out, cavity=passage.to, cup="", kind="vent", diameter_mm=passage.diameter_mm)
    return replace(passage, outer=own).called(passage.id)


@st.composite
def solids(draw: st.DrawFn) -> Solid:
    """Any mesh, sensible or not: a plan keeps what it is given."""
    n = draw(st.integers(3, 12))
    vertices = draw(st.lists(points, min_size=n, max_size=n))
    m = draw(st.integers(1, 12))
    faces = draw(st.lists(st.tuples(*(st.integers(0, n - 1),) * 3), min_size=m, max_size=m))
    cut = draw(st.integers(0, m))
    # Any name of a file; "." is none.
    name = draw(st.from_regex(r"[^/\\\x00\ud800-\udfff]{0,12}", fullmatch=True).filter(lambda name: name != "."))
    source = Source(
        name,
        draw(texts),
        draw(st.none() | units),
        draw(units),
        draw(st.floats(1e-3, 1e3)),
        draw(texts),
        draw(st.booleans()),
        tuple(draw(st.lists(texts, max_size=2))),
    )
    bodies = (Body(draw(texts), 0, cut), Body(draw(texts), cut, m))
    return Solid(np.array(vertices), np.array(faces), bodies, source)


def _values(names: tuple[str, ...]) -> dict[str, st.SearchStrategy[object]]:
    return {name: _allowed(p.PARAMETERS[name]) for name in names}


def _allowed(parameter: p.Parameter[object]) -> st.SearchStrategy[object]:
    if parameter.kind == "choice":
        return st.sampled_from(parameter.choices)
    if parameter.kind == "int":
        return st.integers(int(parameter.lowest or 0), int(parameter.highest or 100))
    if parameter.kind == "direction":
        return st.none() | axes
    numbers = st.floats(parameter.lowest or 0.0, 1e6 if parameter.highest is None else parameter.highest)
    return st.none() | numbers if parameter.default is None else numbers


options = st.builds(AnalysisOptions, **_values(tuple(AnalysisOptions.__dataclass_fields__)))
_weights = st.builds(Weights, **{name: st.floats(0.0, one.highest) for name, one in WEIGHTS.items()})
rules = st.builds(
    VentRules, **_values(tuple(n for n in VentRules.__dataclass_fields__ if n != "weights")), weights=_weights
)
poses = st.builds(Pose, axes, st.sampled_from(["plate", "supports"]), st.floats(0.0, 100.0))


def profiles() -> st.SearchStrategy[Profile]:
    """Profiles with a name and numbers of their own; those that would not cure through are left out."""
    numbers = {name: _allowed(parameter) for name, parameter in PROFILE_PARAMETERS.items()}  # type: ignore[arg-type]
    names = st.sampled_from(["Harbour grey", "Zäh, 30 °C", "x" * 60])
    return st.builds(_profile, names, st.fixed_dictionaries({}, optional=numbers)).filter(lambda p: p is not None)


def _profile(name: str, numbers: dict[str, object]) -> Profile | None:
    try:
        return Profile(name, **numbers)  # type: ignore[arg-type]
    except ParameterError:
        return None


@st.composite
def saved_plans(draw: st.DrawFn) -> SavedPlan:
    """Every plan that can be saved."""
    chosen = draw(st.lists(vents(), max_size=3, unique_by=lambda v: v.id))
    left = draw(st.lists(st.tuples(texts, texts), max_size=2, unique_by=lambda pair: pair[0]))
    missing = draw(st.lists(st.builds(NoVent, texts, texts, texts, texts, st.none() | passages(), texts), max_size=2))
    joined = draw(st.lists(passages(), max_size=2, unique_by=lambda p: p.id))
    return SavedPlan(
        part=draw(solids()),
        plan=Plan(tuple(chosen), tuple(missing), tuple(left), passages=tuple(joined)),
        pose=draw(poses),
        options=draw(options),
        rules=draw(rules),
        set_aside=tuple(draw(st.lists(vents(), max_size=2))),
        proposals=tuple((v.id, draw(vents())) for v in chosen if draw(st.booleans())),
        left_at=tuple((cavity, draw(points)) for cavity, _ in left if draw(st.booleans())),
        profile=draw(st.none() | profiles()),
        passages_aside=tuple(draw(st.lists(passages(), max_size=2))),
        limits=draw(st.builds(InsideLimits, st.floats(0.0, 20.0), st.floats(0.0, 90.0))),
    )
