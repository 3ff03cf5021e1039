"""The commands about how the part hangs."""

from __future__ import annotations

from collections.abc import Iterator

from ventplanner.ui.command import Command, looked_at, with_part


def _posing() -> Iterator[Command]:
    yield Command(
        "face",
        "Part",
        "Hang it by a &face…",
        lambda w: w.switch_face_mode(),
        ("P",),
        "Click the face of the part that goes to the plate",
        looked_at,
        on=lambda w: w.face_mode,
    )
    yield Command(
        "pose",
        "Part",
        "&How it hangs…",
        lambda w: w.stage.tools.show_popup(),
        ("O",),
        "Direction to the plate, plate or supports, gap",
        with_part,
    )
    yield Command(
        "orient",
        "Part",
        "Find an o&rientation…",
        lambda w: w.orienting.switch(),
        ("Shift+O",),
        "What each direction to the plate costs, on a map, and a short list to choose from; or back to the part",
        looked_at,
        on=lambda w: w.orienting.is_on,
    )


POSING_COMMANDS: tuple[Command, ...] = tuple(_posing())
