"""Bodies of one part that overlap, made one before the part is hollowed: each alone would get a wall inside another."""

from __future__ import annotations

from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.mend_parameters import STEPS, UNITE
from ventplanner.mending.mend import mend
from ventplanner.mending.model import THROUGH_ITSELF
from ventplanner.mending.rules import MendRules
from ventplanner.progress import Progress, silent


def united(solid: Solid, progress: Progress = silent) -> tuple[Solid, tuple[str, ...]]:
    """The part with skins that cross others made one with them, and what was done, as sentences.

    A part of one skin, one whose skins cross nothing, and one that is open stay the very same.
    """
    if topology(solid).n_skins < 2:
        return solid, ()
    rules = MendRules(without=frozenset(STEPS) - {UNITE})
    done = mend(solid, rules, progress=lambda _, share: progress("Looking at the mesh", share))
    notes = [f"Before it was hollowed: {one.what}: {one.count}." for one in done.records]
    for note in done.after:
        if note.what == THROUGH_ITSELF:
            way_out = "Mend the part first (ventplanner mend; in the window Ctrl+Shift+M)."
            notes.append(f"Some {note.what} ({note.count}): the wall is kept from each. {way_out}")
    return done.solid, tuple(notes)
