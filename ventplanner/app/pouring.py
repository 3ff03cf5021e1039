"""The pour plan as it is played step by step: how the part is held, the liquid that stands in it, where it runs out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app.draining import told
from ventplanner.app.liquid import Liquid, Skin, liquid_at
from ventplanner.app.state import AppState, fields_of, key_of, plan_key
from ventplanner.draining.bath import Bath, path
from ventplanner.draining.model import Drained, Ran, Step
from ventplanner.draining.planning import drain
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Plan, Point
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

Stance = tuple[Point, Point, Point]
"""Rows of the rotation that brings build axes to those of the room, z up."""

HANGING: Stance = ((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0))
STANDING: Stance = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True)
class Stream:
    """Where liquid leaves in a step. at: build point of the outer end of the hole; name: of the vent or passage, "" for
    an opening of the part."""

    at: Point
    name: str


@dataclass(frozen=True, eq=False)
class Scene:
    """One step as a picture: the part is held so, or still on its plate, this stands in it when nothing runs any more,
    it ran out here."""

    stance: Stance
    on_plate: bool
    liquid: Liquid
    streams: tuple[Stream, ...]


@dataclass(frozen=True, eq=False)
class Poured:
    """A pour plan with a picture of each step. advice: sentences on rinsing and on the last cure."""

    done: Drained
    scenes: tuple[Scene, ...]
    advice: tuple[str, ...]


def pour_key(state: AppState, profile: Profile) -> str:
    """Key of the pour plan: the findings, the drills and what they are called, and the profile."""
    names = [*(vent.id for vent in state.plan.vents), *(passage.id for passage in state.plan.passages)]
    return key_of("pour", plan_key(state), names, fields_of(profile))


def pour(findings: Findings, plan: Plan, profile: Profile, progress: Progress = silent) -> Poured:
    """Find the pour plan, and draw each of its steps. Raises Cancelled."""
    done = drain(findings, plan, profile, progress)
    progress("Drawing the liquid", 1.0)
    skin = Skin.of(findings, done.cells)
    scenes, stance = [], HANGING
    for step in done.steps:
        stance = turned(stance, step.rest.up)
        liquid = liquid_at(skin, step.rest)
        scenes.append(Scene(stance, step.how == "hanging", liquid, streams_of(findings, done.bath, step)))
    # Directions that were kept ready for the search are not needed any more; they are large.
    slim = replace(done, bath=replace(done.bath, _ready={}))
    progress("Looking where a brush and light get", 1.0)
    return Poured(slim, tuple(scenes), told(findings, plan, slim).advice)


def turned(stance: Stance, up: FloatArray) -> Stance:
    """The part turned on the shortest way, as the plan turns it, until `up`, (3,) in build axes, is up in the room."""
    held = np.array(stance)
    for goal in path(held[2], np.asarray(up, dtype=np.float64)):
        held = held @ _smallest(goal, held[2])
    x, y, z = ((float(a), float(b), float(c)) for a, b, c in held)
    return x, y, z


def _smallest(start: FloatArray, end: FloatArray) -> FloatArray:
    """(3, 3) rotation that brings one unit vector to another that is less than half a turn away (Rodrigues 1840)."""
    axis, cosine = np.cross(start, end), float(start @ end)
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + cross + cross @ cross / (1.0 + cosine))


def streams_of(findings: Findings, bath: Bath, step: Step) -> tuple[Stream, ...]:
    """Where liquid leaves in a step."""
    names = [cavity.id for cavity in findings.cavities]
    found = []
    for ran in step.ran:
        own = [n for n, m in enumerate(bath.doors.mouths) if _is_it(ran, m.name, names[m.cavity])]
        if own:
            lowest = bath.doors.mouths[min(own, key=lambda n: bath.lip(n, step.rest.up))]
            x, y, z = (float(v) for v in lowest.outer)
            found.append(Stream((x, y, z), lowest.name))
    return tuple(found)


def _is_it(ran: Ran, name: str, cavity: str) -> bool:
    return ran.cavity == cavity and ran.through == name
