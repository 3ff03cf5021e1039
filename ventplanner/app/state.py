"""What the user wishes: one frozen value, from which everything else is derived.

Findings, proposals, previews and the drilled part are no part of it. They are kept beside it under the keys below,
each a digest of all that the result depends on: a late answer whose key is not the current one is dropped, and undo
finds the earlier results again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import astuple, dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import count

import msgspec

from ventplanner.app.history import Pieces
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid, Unit
from ventplanner.geometry.support_file import Supports
from ventplanner.io.project import SavedPlan
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules
from ventplanner.plan.model import NoVent, Passage, Plan, Point, Vent
from ventplanner.profile import Profile


@dataclass(frozen=True)
class AppState:
    """The part as read, how it shall hang and be analysed, and what the user decided so far.

    `plan.vents` are the accepted vents and `plan.left_alone` the cavities to be left as they are; `plan.missing` is
    empty here, because it is a result. `set_aside` and `passages_aside` are the proposals that the user does not want.
    `proposals` says, per id of an accepted vent, which proposal it began as; `left_at`, per cavity left alone, a point
    in it (mm along the file's axes), by which it is found again when another analysis gives it another letter.
    `profile` is the printer and resin that suction and printed widths are computed for; None: it was not said yet, and
    whoever opens the part says it. It is in no key of the findings: their results do not rest on it. `supports` are
    those of a second file, obstacles for vents. `keep_clear` are the faces that no vent may cut, None if none are
    marked (never a mask without a face). `limits` are those of the look inside, on which nothing else rests.

    Places are in the file's axes, so a plan outlives a change of pose or options; but in which cavity and cup a vent
    is then, and whether it still serves, has to be looked up again. `plan_made_for` is the analysis key for which the
    plan was last looked up, "" if never.
    """

    solid: Solid
    pose: Pose = field(default_factory=Pose)
    options: AnalysisOptions = field(default_factory=AnalysisOptions)
    rules: VentRules = field(default_factory=VentRules)
    plan: Plan = field(default_factory=Plan)
    set_aside: tuple[Vent, ...] = ()
    proposals: tuple[tuple[str, Vent], ...] = ()
    left_at: tuple[tuple[str, Point], ...] = ()
    profile: Profile | None = None
    passages_aside: tuple[Passage, ...] = ()
    plan_made_for: str = ""
    keep_clear: FaceMask | None = None
    supports: Supports | None = None
    limits: InsideLimits = field(default_factory=InsideLimits)

    @property
    def path(self) -> str:
        """Path of the file that the part was read from."""
        return self.solid.source.path

    @property
    def unit(self) -> Unit | None:
        """The unit that the file or the user gave; None if it is assumed."""
        return self.solid.source.unit_given

    # Asked for dozens of times while a vent is dragged: each state makes its keys once.

    @cached_property
    def _analysis_key(self) -> str:
        pose = self.pose
        # Twelve decimals: making a unit vector again may change its last bit, which is no other pose. The rare
        # direction that this still splits is analysed once more, nothing worse.
        direction = [round(x, 12) + 0.0 for x in pose.to_plate]
        minded = [self.supports.digest, self.supports.problem] if self.supports is not None else []
        return key_of("analysis", self.solid.digest, direction, pose.on, pose.gap_mm, fields_of(self.options), *minded)

    @cached_property
    def _plan_key(self) -> str:
        return key_of("plan", self._analysis_key, _drills(self.plan.drills))

    @property
    def is_untouched(self) -> bool:
        """True as long as no decision was taken that another analysis could put in question."""
        return not (self.plan.drills or self.plan.left_alone or self.set_aside or self.passages_aside)

    @property
    def plan_is_current(self) -> bool:
        """False when the plan was made for another pose, other options or another part, and must be looked up again."""
        return self.is_untouched or self.plan_made_for == analysis_key(self)


BY_NEED = VentRules(size="need")
"""Where the window begins: it shows what each diameter rests on, and changes it when the printer changes."""


def analysis_key(state: AppState) -> str:
    """Key of the findings: the part, its pose and the options of the analysis."""
    return state._analysis_key


def proposals_key(state: AppState) -> str:
    """Key of the proposals: the findings, the rules for vents and the surface to be kept clear."""
    return key_of("proposals", analysis_key(state), fields_of(state.rules), marks_key(state))


def marks_key(state: AppState) -> str:
    """Key of the surface to be kept clear, "" if there is none."""
    return state.keep_clear.digest if state.keep_clear is not None else ""


def plan_key(state: AppState) -> str:
    """Key of what the accepted vents change in the print (preview, sealed area): the findings and the drills."""
    return state._plan_key


def drilled_key(state: AppState) -> str:
    """Key of the drilled part: the part and the drills. The pose does not count, so turning the part costs no cut."""
    return key_of("drilled", state.solid.digest, _drills(state.plan.drills))


def wish_key(state: AppState) -> str:
    """Key of all that a plan file keeps: work is unsaved while this differs from the key at the last save."""
    decisions = (state.plan, state.passages_aside, state.set_aside, state.proposals, state.left_at, state.profile)
    return key_of("wish", proposals_key(state), fields_of(state.limits), msgspec.to_builtins(decisions))


def _drills(vents: Iterable[Vent]) -> list[object]:
    """What a drill removes, whatever the vent is called; the union does not depend on the order."""
    return sorted((list(v.cut) for v in vents), key=str)


@lru_cache(maxsize=64)
def fields_of(value: AnalysisOptions | VentRules | InsideLimits | Profile) -> tuple[object, ...]:
    """The values of all fields, for a key; taken apart once, as keys are made at each step of a drag."""
    return astuple(value)


def key_of(*parts: object) -> str:
    """A digest of plain values."""
    return hashlib.blake2b(msgspec.json.encode(parts), digest_size=16).hexdigest()


def open_proposals(state: AppState, proposals: Iterable[Vent]) -> tuple[Vent, ...]:
    """Those proposals that the user has neither accepted nor set aside.

    A proposal counts as decided when it is in the same place as one that was: another pitch moves a proposal by a
    fraction of it, and the user does not want to be asked again for that. So it does where a vent of the plan is: plans
    of the command line do not tell which proposal each vent began as.
    """
    decided = (*(proposal for _, proposal in state.proposals), *state.set_aside, *state.plan.vents)
    return tuple(p for p in proposals if not any(same_place(p, d) for d in decided))


def offered(state: AppState, proposals: Iterable[Vent]) -> tuple[Vent, ...]:
    """Open proposals outside the cavities that are left as they are, with ids that nothing decided bears."""
    alone = {cavity for cavity, _ in state.plan.left_alone}
    # Numbered before those of cavities left alone are taken out: the others keep their numbers.
    vents = numbered_apart(open_proposals(state, proposals), (*state.plan.vents, *state.set_aside))
    return tuple(v for v in vents if v.cavity not in alone)


def numbered_apart(proposals: tuple[Vent, ...], decided: tuple[Vent, ...]) -> tuple[Vent, ...]:
    """The proposals with ids that nothing decided bears: another pose or other rules count from 1 again.

    decided: accepted vents and those set aside. Deciding on one proposal as numbered here renumbers no other.
    """
    borne = {v.id for v in decided}
    taken = borne | {v.id for v in proposals}
    free = (str(n) for n in count(1) if str(n) not in taken)
    return tuple(replace(v, id=next(free)) if v.id in borne else v for v in proposals)


def same_place(one: Vent, other: Vent) -> bool:
    """True when both are of one kind and the entry of one lies within the mouth of the other: a vent that is made
    narrower keeps its lowest point."""
    apart = sum((a - b) ** 2 for a, b in zip(one.entry_mm, other.entry_mm, strict=True)) ** 0.5
    return one.kind == other.kind and apart <= max(one.radius_mm, other.radius_mm) + 1e-6


def memory_of(state: AppState) -> Pieces:
    """What a state holds in memory, for the cap of the history: estimated bytes per piece that states may share."""
    vents = (*state.plan.vents, *state.set_aside, *(v for _, v in state.proposals))
    mesh, marks = state.solid, state.keep_clear
    # Of the marks one bit a face, and one byte once they have been asked for.
    marked: Pieces = {} if marks is None else {id(marks): marks.bits.nbytes + marks.faces}
    return {id(mesh): mesh.vertices.nbytes + mesh.faces.nbytes, **marked, **dict.fromkeys(map(id, vents), 1200)}


def to_saved(state: AppState, missing: tuple[NoVent, ...] = ()) -> SavedPlan:
    """What a plan file keeps of the state, with the cups for which no vent was found (a result, kept for reading)."""
    plan = Plan(state.plan.vents, missing, state.plan.left_alone, passages=state.plan.passages)
    rest = (state.set_aside, state.proposals, state.left_at, state.profile)
    return SavedPlan(
        state.solid,
        plan,
        state.pose,
        state.options,
        state.rules,
        *rest,
        keep_clear=state.keep_clear,
        supports=state.supports,
        passages_aside=state.passages_aside,
        limits=state.limits,
    )


def from_saved(saved: SavedPlan) -> AppState:
    """The state to go on with. The plan counts as not looked up: another version may analyse otherwise."""
    plan = Plan(saved.plan.vents, (), saved.plan.left_alone, passages=saved.plan.passages)
    rest = (saved.set_aside, saved.proposals, saved.left_at, saved.profile)
    return AppState(
        saved.part,
        saved.pose,
        saved.options,
        saved.rules,
        plan,
        *rest,
        keep_clear=saved.keep_clear,
        supports=saved.supports,
        passages_aside=saved.passages_aside,
        limits=saved.limits,
    )
