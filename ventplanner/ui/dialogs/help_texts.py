"""The texts of the help pages: headings with their paragraphs."""

from __future__ import annotations

HOW_IT_PRINTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Layers (Y)",
        (
            "One layer from above, front of the part below, as it is when that much is printed. It goes with"
            " the handle of the chart and moves it: Page up and Page down, full stop and comma, the slider, the"
            " number, or Shift and the wheel. It is moved and enlarged as the view is; 0 or Shift+Y fits it. A"
            " click on a void selects its cavity, a click on a drill the vent.",
            "Material is plain, what is reached from beside the part is blank. A breathing void is dotted: it"
            " has a way to the outside at this height. A sealed void is striped: it has none yet, and sucks when"
            " the layer is lifted. What is cured by accident is cross-hatched: void in the model that the light"
            " closes.",
            "Before the print has been worked out, layers are those of the columns that measured the part, and"
            " coarser than the printer's pixels; the line below says which. Those of a part with more pixels than"
            " fit in memory are coarser, too; how wide its openings and vents print is told at the printer's own.",
        ),
    ),
    (
        "As printed (A, Shift+A)",
        (
            "Which openings and vents print closed, how wide the others print at their narrowest, and what took"
            " how much, one after the other: the raster of pixels; bleed, the light that spreads sideways;"
            " print-through, the light that goes on below a ceiling; and the over-exposed base layers. It takes"
            " some seconds, can be cancelled, and is known of one plan and one profile only: after another edit"
            " it is asked for again.",
            "The layers and the breathing chart follow the same choice. As printed, the chart is filled with sealed"
            " area, suction and force with all openings and vents as wide as they print; one that prints closed"
            " lets nothing through. Its dashed edge, without vents, stays that of the model. Until that is known the"
            " curves of the model are shown pale. The card of a cavity or cup then has the suction at the lift as"
            " printed, too.",
            "A vent that prints closed is left to do, with the size that would just print open, or how"
            " much higher it is clear of the base layers. Its card has the size that prints as wide as was"
            " asked for as well, and takes either with one click.",
        ),
    ),
    (
        "Test piece",
        (
            "A profile is only as good as its numbers. The test piece has three rows of holes of graded size:"
            " through its roof, through its back wall, and through its floor. Print it, look which holes are"
            " open, and the light spread, the penetration depth and the spread of base layers are fitted to that"
            " and saved as a profile.",
        ),
    ),
    (
        "What the figures are",
        (
            "Estimates that rest on the profile (Ctrl+R). The spread of light is taken as a bell curve, walls"
            " as printed however thin they are, and where the pixels lie on the part is not known: a width may"
            " be off by a pixel or two. Try what matters with a small print first.",
            "A plan keeps the profile that it was made with and is worked on with it; the line at the bottom right"
            " says so. Other parts keep yours.",
        ),
    ),
)
