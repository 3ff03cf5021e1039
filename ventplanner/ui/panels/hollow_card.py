"""The card after hollowing: resin saved, the wall that was proved, the largest section before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ventplanner.profile import Profile
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, button, label, row
from ventplanner.ui.units import area, exact, resin, sentence, shown_unit
from ventplanner.ui.words import count, exact_mm, mm, volume

if TYPE_CHECKING:
    from collections.abc import Callable

    from ventplanner.app.hollow_edit import HollowFacts
    from ventplanner.ui.session import Session

MOST_TOLD = 4
SEALED = "It is sealed now: vents are proposed for it."
OPEN = "It is open at the side to the plate: closed by the plate if it lies on it, open to the air on supports."


class HollowCard(Card):
    """What hollowing did, until something is selected. chart: shows the sections there."""

    def __init__(self, session: Session, facts: HollowFacts, chart: Callable[[], object]) -> None:
        super().__init__(session)
        state = session.state
        profile = (state.profile if state is not None else None) or Profile()
        figures = Figures()
        share = 100.0 * facts.saved_mm3 / facts.part_mm3
        figures.put("Resin saved", f"{resin(facts.saved_mm3)}, {share:.0f} %", "And how much of the part that is")
        weight = facts.weight_g(profile.density_kg_m3)
        figures.put("Weight saved", f"{weight:.0f} g" if weight >= 9.5 else f"{weight:.1f} g", f"Of {profile.name}")
        figures.put("Wall asked", exact_mm(facts.wall_mm))
        least = f"{exact(facts.proved_mm)} {shown_unit('mm')}"
        figures.put("Nowhere under", least, "Proved for every triangle of the inside by exact distances to the skin")
        figures.put(
            "On average",
            f"{exact(facts.mean_mm)} {shown_unit('mm')}",
            f"Where the wall alone decides: {100.0 * facts.share:.0f} % of the inside",
        )
        figures.put("Largest section before", area(facts.largest_before_mm2), "Material in one layer, in this pose")
        figures.put("Largest section after", area(facts.largest_after_mm2), "Material in one layer, in this pose")
        figures.put("Hollows", _volumes(facts.hollows_mm3))
        figures.put("Left solid, too small", str(facts.dropped) if facts.dropped else "")
        way = facts.way_through_mm
        figures.put("Way through the lattice", "" if way is None else mm(way), "The largest ball that passes")
        figures.put("Grid", exact_mm(round(facts.grid_mm, 3)), "On which the hollow was drawn")
        figures.put("Memory", f"{facts.memory_mb:.0f} MB", "Needed at most, about")
        heading = Heading("Hollowed", f"{resin(facts.saved_mm3)} of resin saved")
        self._sealed = label("" if facts.is_open else SEALED, wrap=True)
        for widget in (heading, figures, label(OPEN, wrap=True) if facts.is_open else self._sealed):
            self.column.addWidget(widget)
        for text in facts.notes:
            self.column.addWidget(label(sentence(text), "muted", wrap=True, select=True))
        self.undo = button("Make it solid again", session.undo, tip="Undo (Ctrl+Z)")
        self.chart = button("Show in the chart", chart, tip="Material in each layer, before and after (Ctrl+4)")
        self.column.addLayout(row(self.undo, self.chart))
        self.column.addStretch(1)
        self._solid = state.solid if state is not None else None
        self._edit = session.undo_name

    def refresh(self) -> bool:
        """Gone with the part that it tells of; the way back is offered as long as it is one step."""
        is_last = self.session.undo_name == self._edit
        self.undo.setVisible(is_last)
        self._sealed.setVisible(is_last and bool(self._sealed.text()))  # what comes later may be vents
        state = self.session.state
        return state is not None and state.solid is self._solid


def _volumes(hollows: tuple[float, ...]) -> str:
    told = ", ".join(volume(one) for one in hollows[:MOST_TOLD])
    rest = len(hollows) - MOST_TOLD
    return f"{told} and {count(rest, 'smaller one')}" if rest > 0 else told
