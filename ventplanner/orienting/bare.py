"""A part without the supports that its file came with: those are made for one orientation."""

from __future__ import annotations

from dataclasses import replace

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid


def bare(findings: Findings) -> Findings:
    """Findings of the part alone in the same pose, at the same columns' distance, with the same surface kept clear; the
    same findings if its file has no supports."""
    if not findings.support_skins.any():
        return findings
    own = ~findings.support_skins[findings.scene.topology.skin_of_face]
    whole = findings.solid
    part = Solid(whole.vertices, whole.faces[own], source=whole.source).compact()
    options = replace(findings.options, pitch_mm=findings.scene.resolution.pitch_mm)
    found = analyse(part, findings.pose, options)
    marked = findings.kept_clear
    return found if marked is None else found.keeping_clear(FaceMask.of(marked.mask.flags[own]))
