"""Every colour of the view and the chart, for light and for dark, as one frozen value. Qt-free.

Cavities take the palette of Okabe & Ito 2008, "Color universal design", without the two that are kept for states:
bluish green (breathing) and vermilion (sealed, late). No state is told by colour alone: a word goes with it.
"""

from __future__ import annotations

from dataclasses import dataclass

CAVITY_COLOURS = ("#0072B2", "#CC79A7", "#E69F00", "#56B4E9", "#F0E442")
"""Blue, reddish purple, orange, sky blue, yellow; after that from the start again, told apart by letters."""

BREATHING, SEALED = "#009E73", "#D55E00"


@dataclass(frozen=True)
class Colours:
    """Colours as #rrggbb. `sky` and `ground` are the background of the view at its top and at its bottom.

    ink: text and lines. muted: ink that may stay in the background, still 4.5:1 on paper. faint: lines that are no
    text. drill: accepted vents. skin: the translucent outer skin; cut: its section. pill, pill_ink: small labels over
    the picture; chosen, chosen_ink: the same when selected. ghost, ghost_ink: fill and dashes of proposals. liquid:
    resin that stands in the part; no cavity has it.
    """

    name: str
    paper: str
    ink: str
    muted: str
    faint: str
    sky: str
    ground: str
    skin: str
    rim: str
    cut: str
    drill: str
    pill: str
    pill_ink: str
    chosen: str
    chosen_ink: str
    ghost: str
    ghost_ink: str
    liquid: str
    breathing: str = BREATHING
    sealed: str = SEALED

    def cavity(self, number: int) -> str:
        """Colour of the cavity with this number; -1 is space that belongs to no cavity shown."""
        return CAVITY_COLOURS[number % len(CAVITY_COLOURS)] if number >= 0 else self.muted


LIGHT = Colours(
    name="light",
    paper="#fbf9f6",
    ink="#22272a",
    muted="#666058",
    faint="#cfc8bd",
    sky="#f0ede7",
    ground="#e4dfd6",
    skin="#e9e5dd",
    rim="#8d8880",
    cut="#bdb6aa",
    drill="#22272a",
    pill="#ffffff",
    pill_ink="#22272a",
    chosen="#22272a",
    chosen_ink="#ffffff",
    ghost="#ffffff",
    ghost_ink="#22272a",
    liquid="#6a3d9a",
)

DARK = Colours(
    name="dark",
    paper="#1d2022",
    ink="#e9e6e0",
    muted="#a39d93",
    faint="#4a4e50",
    sky="#2a2f32",
    ground="#202426",
    skin="#8f9496",
    rim="#e9e6e0",
    cut="#8a8984",
    drill="#f4f1ec",
    pill="#f4f1ec",
    pill_ink="#22272a",
    chosen="#22272a",
    chosen_ink="#ffffff",
    ghost="#1d2022",
    ghost_ink="#f4f1ec",
    liquid="#a67be0",
)


def rgb(colour: str) -> tuple[float, float, float]:
    """#rrggbb as three shares of 1."""
    red, green, blue = (int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5))
    return red, green, blue


def mixed(one: str, other: str, share: float) -> str:
    """`one` with this share of `other` in it, channel by channel."""
    channels = (round(255 * (a + (b - a) * share)) for a, b in zip(rgb(one), rgb(other), strict=True))
    return "#" + "".join(f"{c:02x}" for c in channels)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio)."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgb(colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
