"""The texts of the help pages: headings with their paragraphs."""

from __future__ import annotations

Pages = tuple[tuple[str, tuple[str, ...]], ...]

HOW_IT_PRINTS: Pages = (
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

SUCTION: Pages = (
    (
        "What happens",
        (
            "When a layer is lifted off the film, every hollow that reaches down to it must take in as much resin as it"
            " grows. What it takes in comes through throats, openings and vents, as far as they are printed; the"
            " narrower they are, the harder it sucks. On the way down the same resin is pressed out again.",
        ),
    ),
    (
        "The figures",
        (
            "At the lift: the largest suction once a vent is complete. Start-up: until then. Way down: the largest"
            " overpressure, which bulges thin walls. Force: suction times area, which the film and the part must bear.",
            "Vents above the resin draw in air, which resists next to nothing. From which height on, and how much of"
            " the hollow is empty of resin in the end, is told then. As printed, what is narrower than four pixels"
            " counts as closed.",
            "Closed: nothing gets in, and only the pressure of the air ends the suction.",
            "Before: without vents. After: with those that you accepted. As printed (A): with all openings and vents as"
            " wide as they print; without that, as wide as in the model. Grey figures are those of before your last"
            " change; the new ones come in a moment.",
        ),
    ),
    (
        "How wide a vent must be",
        (
            "Each condition asks for a diameter: the suction at the lift, the pressure on the way down, and that it"
            " prints open. The largest one binds, and its height is told. Beside it stand the speeds that go with the"
            " vents as they are: a vent that is too small for 60 mm/min may do for 25 mm/min.",
            "The flow is solved with trial diameters. Near the start of a hollow one vent bears all of it, while the"
            " others are still above the layer being printed: it gets what it needs then, and vents that share the"
            " flow get the same width. What is asked of several vents goes together: with all of them so wide every"
            " limit is kept.",
            "Proposed vents are as wide as is asked, and no narrower than the least diameter (Ctrl+comma, where they"
            " can be given one width for all as well); two beside each other where one would be wider than 4 mm."
            " Accepted vents stay as they are; Size accepted holes by need, in the menu Vents, makes them and passages"
            " as wide as is asked, in one step that can be undone, and says which cannot be, and why.",
        ),
    ),
    (
        "What it rests on",
        (
            "The profile of printer and resin, at the bottom right (Ctrl+R): its numbers are typical ones, most of them"
            " from memory, and each says where it comes from. Measured ones make the figures better.",
            "Slow, steady flow of a resin that does not thicken. Film and walls are taken as stiff; real ones give way,"
            " so real suction is lower. Above a Reynolds number of 10 the figures are rough; of a wall that would bulge"
            " more than half its thickness they say nothing. All of them are estimates for planning, not measured.",
        ),
    ),
)

HOLLOWING: Pages = (
    (
        "What it does",
        (
            "From a solid part to one with an even wall: the skin stays as it is, to the last bit, and the inside keeps"
            " the wall that you asked for everywhere. That is proved by exact distances, also where the grid on which"
            " the hollow is drawn is coarser than a crevice; at most 0.02 mm may be missing. A finer grid makes the"
            " inside smoother, not the wall truer, and takes longer.",
            "2 to 4 mm of wall are usual. Thicker where the part is large or bears something.",
        ),
    ),
    (
        "The section beside the form",
        (
            "It follows the numbers: the part in grey, the hollow in blue, seen from the front, the side or the top and"
            " cut where the slider says. It is drawn on a coarse grid, which is told below it: what is narrower than"
            " that may be missing. The part itself is hollowed on the finer grid, with the exact wall.",
            "Under a surface that is kept clear (K), or one that has a colour of its own in the file, the part can stay"
            " solid, as deep as you say.",
        ),
    ),
    (
        "Inside",
        (
            "Corners are rounded so that resin runs off. What would begin in mid-air in this pose gets a rib; a least"
            " steepness makes all ceilings rise, so that the inside carries itself from the plate on. Turn the part"
            " first: both go by how it hangs when it is hollowed.",
            "A lattice of slanted struts bears a thin wall from inside. Resin flows through it more slowly, and the"
            " card says how wide its ways are.",
        ),
    ),
    (
        "What comes next",
        (
            "A hollow is sealed: its vents are proposed at once, and accepted like all others. Left open at the plate"
            " it needs supports: lying on the plate it is closed again.",
            "Ctrl+4 lets the chart show the material in each layer: dashed as it was solid, filled as it is now. A"
            " large layer pulls hard at the film; a hollow makes it smaller.",
            "The hollowed part is the part from then on. Undo makes it solid again, a saved plan keeps it hollow, and"
            " reading the file again (F5, or in another unit) takes the solid part that is in the file.",
        ),
    ),
)

MENDING: Pages = (
    (
        "First a look, then the change",
        (
            "Part, Mend the part (Ctrl+Shift+M) lists what would be done to the mesh: each step with how often and"
            " where. Show place walks through the places in the view. Nothing is changed before you press Mend it; what"
            " you untick is left out, and the list is worked out anew without it, as later steps rest on earlier ones.",
            "It is one step of undo, and the plan keeps the mended part. The file itself is written by an export only,"
            " which reads it again. The whole report is among the notes on the card of the part.",
        ),
    ),
    (
        "What it does",
        (
            "Vertices at open edges that nearly meet are joined; repeated, flat and back-to-back faces go; faces are"
            " divided at vertices on their open edges; flipped faces and whole skins are turned; skins that share an"
            " edge or a vertex are parted by a micrometre; scraps go; small holes are filled so that the skin goes on"
            " smoothly; bodies that overlap are made one.",
            "A cavity is never lost and never made solid. Triangles that no step names stay to the last bit.",
        ),
    ),
    (
        "Where it ends",
        (
            "A hole wider than a third of its skin is not filled unless you allow it: it may be meant. If the part"
            " cannot be closed, the card says what is in the way and where, and nothing is changed.",
        ),
    ),
)

ORIENTING: Pages = (
    (
        "The map (Shift+O)",
        (
            "Every direction of the part can go to the plate. Some hundreds of them are tried, more of them near"
            " the good ones. The left disc has those with the bottom of the file to the plate in its middle, the"
            " right one those with the top; their rims are the sides. Rings mark a tilt of 30° and 60°. Equal"
            " patches of the discs are equal patches of the sphere. The darker a patch, the more it has of what the"
            " list above says: less is better.",
            "Point at a patch to read its figures, click it, or go from patch to patch with the arrow keys: the view"
            " shows the part as it would hang, with its plate. The figures of the map are coarse, and are told with"
            " “about”: those of a part on supports. How much vents are seen is a guess: each is taken to go to the"
            " nearest skin. Suction and the resin left need the vents themselves: only the short list has them. A"
            " diamond marks how the part hangs now.",
        ),
    ),
    (
        "The short list",
        (
            "Its orientations are worked out in full, on the plate and on supports: vents are proposed for each, and"
            " suction, overpressure, the resin that stays and how much the vents are seen follow from them. They are"
            " clearly different, and none of them is worse than another one in every figure. First come those that"
            " keep the limit of suction and need the fewest vents.",
            "The sealed figures are those of the part as it came, without vents. Your own vents do not count here:"
            " they stay in the part when it is turned, and what is left to do is told anew.",
        ),
    ),
    (
        "What is left to you",
        (
            "Nothing is turned before you say Use this orientation; that is one step of undo. Which side may bear the"
            " marks of supports, how long the print may take and what the layers look like on a slope is yours to"
            " weigh: no figure here knows of it.",
            "Turned by hand or back again, the part has the same map. Other options, another printer or resin, other"
            " marks or another part are asked for anew. How it hangs now is known in full, if not at once."
            " Supports, in the part's own file or a second one, are made for one orientation: they count for that one"
            " alone, not on the map or in the list.",
        ),
    ),
)

DRAINING: Pages = (
    (
        "The moves (D, M, Shift+M)",
        (
            "From hollows full of resin, hanging on the plate: what runs out there, what when it is taken off, and"
            " which way to turn it then, so that least stays. At most four turns are looked for; one more only if it"
            " brings out more than a little. The view holds the part as you would, gravity down. Resin is violet, its"
            " level flat; a ring and an arrow mark each hole that it leaves by in this move.",
            "Turn the view until down is down, and press Shift+D: the part is held so, and what is in it runs until it"
            " rests. S holds it standing, H hanging; Fill it again begins with full hollows. The card tells each pool"
            " with the height at which it runs over. M goes on with the moves.",
            "The accepted vents count, and openings and passages. After an edit it is worked out anew; undo brings back"
            " what was known.",
        ),
    ),
    (
        "What the figures rest on",
        (
            "A hole lets resin out only while air gets in: through another hole that is dry or far enough above it, or"
            " through itself if it is wide. Some only empty when the part is shaken; the moves say so.",
            "The time to wait follows from the viscosity of the profile, and ends when drops hold themselves in the"
            " hole. The film on the walls and what drops hold back are added to what stays at most. Liquid is followed"
            " in small cells: pools of a few mm³ are beyond that.",
        ),
    ),
    (
        "Mind",
        (
            "Wear nitrile gloves, keep alcohol away from flames, follow the safety data sheets, and pour nothing down"
            " the drain. Do not cure a part that holds liquid resin.",
        ),
    ),
)

HARD_PLACES: Pages = (
    (
        "Other places (J, Shift+J)",
        (
            "A proposal opens its cup where that starts. Where this place is in full view, or in the way of something,"
            " J puts the selected vent to the next of some clearly different places, and Shift+J to the one before. Its"
            " card lists them with what each costs: the height that stays closed below it, what is still sealed there,"
            " the wall, the worst suction, how wide it prints, the resin that stays in the cavity when it drains, and"
            " the share of views in which the hole is seen.",
            "Ctrl+J keeps the present place for comparing. The chart then draws its curve as a line of long and short"
            " dashes, over the filled one of now, and the card has the figures of both, with a mark at the better one."
            " Resin that stays: the pool below the lowest way out of the cavity, with the part as it hangs, or plate"
            " side down, if air comes in freely. What clings to the walls is not counted.",
            "The slider from breathes best to hidden best (Ctrl+,) weighs both for all proposals; what counts how much"
            " stands folded below it. Ctrl+Shift+J says that the part will be looked at as the view shows it now: the"
            " card of the part tells from where. Shift+V says why no vent fits just where the pointer is, or what one"
            " there would cost.",
        ),
    ),
    (
        "Slots, squares, countersinks",
        (
            "The card of a vent makes it a slot or square and countersinks its entry. The diameter is then the width; a"
            " slot in a fold is seen less than a round hole that lets as much through. Turned by 0° it lies level: in a"
            " wall it is complete sooner, so that it sucks less; by 90° it stands upright.",
            "At least 0.5 mm of wall stays under a countersink. What would cut another hollow, a support, another vent"
            " or a surface to be kept clear is refused with the reason and the place, also while it is dragged: a red"
            " cross in the view marks what is in the way.",
        ),
    ),
    (
        "Openings that the model came with",
        (
            "The card of a cavity lists them, and closes one that is in the wrong place: the wall goes on through it,"
            " flush with both skins, before the print. Nothing is plugged after it: resin would stay locked in.",
            "Move it… asks for a click at its new place: a vent as wide is drilled there, and the opening is closed, as"
            " one step. With the cavity selected, the menu of a place (right click) offers the same. The last way out"
            " of a hollow (the new vent counts), a slit, and a hole that runs into a floor or a corner are refused."
            " Undo opens it again.",
            "Drill on from here makes an opening go on along its axis, through the wall behind, into the next hollow;"
            " a right click on the floor of a blind hole offers the same. The drill is a hair narrower than the hole.",
        ),
    ),
    (
        "Surfaces to be kept clear (K)",
        (
            "Paint over the skin what no hole may cut: a round brush, all up to the creases (G), single triangles (I),"
            " or all that is seen from here (Shift+K); Shift erases. It is hatched. Proposals go elsewhere, and a cup"
            " without another place is listed with this reason. A triangle is marked as a whole."
            " A part that has colours in its own file (3MF, PLY, OBJ, OFF) offers them: tick those to be kept clear.",
        ),
    ),
    (
        "Passages inside",
        (
            "A cup that has no place on the skin can be joined inside the part to a hollow that breathes at the height"
            " where the cup starts; a cup inside a cavity, to the rest of it. The line at the bottom offers it where no"
            " vent helps, the card says from where to where, how long it is, its slope, and how much material stays"
            " round it. Nothing is seen of it from outside, unless the hollow does not breathe there itself: then one"
            " straight drill may go through it from the outside, and the card says where the extra hole is. Its card"
            " tells how wide the limits want it, and makes it so on a click.",
            "Drag an accepted passage by an end, its knee or its middle, or lay a new one (Shift+I): click the hollow"
            " where it starts, then the one where it leads to, both through the skin. How much material stays round it,"
            " and how long it is, stands beside it all the while; where it does not fit, the reason, with a cross at"
            " the place."
            " To let it go there leaves it where it fitted last.",
            "The list at the left says by what each cavity reaches the outside: by vents of its own, or by a passage"
            " and another cavity. One that is joined to nothing that gets out is left to do.",
        ),
    ),
    (
        "Supports, and a look inside",
        (
            "Supports from a second file (File, Load supports) are obstacles for vents and for the way of a drill; they"
            " are never written into the part. The card of the part lists what starts in mid-air, ceilings, specks of"
            " closed void and thin walls: worth a look, and no hindrance.",
        ),
    ),
)
