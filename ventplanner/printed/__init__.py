"""As printed: which openings print closed, how wide each one prints, and what the cups are then.

The model. A part is cut into layers of the profile's height, counted from z = 0 of the part, and each layer into the
profile's pixels. A cell (pixel, layer) is material if the part is material in the middle of the cell: that is the mask
through which the layer is lit. With E/Ec = R_k for layer k, penetration depth Dp and layer height h, the dose in the
middle of a cell of layer j, in units of what just cures the resin, is

    D(x, y, j) = sum over k >= j of R_k exp(-(k - j + 1/2) h / Dp) (G * M_k)(x, y)

Light falls in from the film, so a layer also cures what was printed before it and left liquid: ceilings come down
towards the plate (sum of doses: Gong et al. 2015, RSC Adv. 5, 106621; Limaye & Rosen 2007, Rapid Prototyping J. 13, 76;
working curve: Jacobs 1992, Rapid Prototyping & Manufacturing). G is a Gaussian of the profile's light spread,
integrated over the square pixels that are lit, out to four standard deviations (real lamps have longer tails, so the
bleed is a lower bound). R_k is larger in the base layers, which count from the plate (on supports most of them lie
below the part), and their mask is grown sideways by the spread of base layers first (own model: what spreads there is
light scattered by the plate and long exposure, more than the blur tells).

A void cell with D >= 1 prints solid. A cell of material stays material: thin walls are taken as printed. Upright
walls between two skins hold however thin they are; walls within one skin that are thinner than a pixel, and flat
walls that are thinner than a layer, may be missed by the raster, as they are by a printer. Where the printer's pixels
lie within a pixel on the part is not known; they are laid from the corner of the part's box.

`as_printed` is the one entry; `calibration` makes the test piece and fits a profile to what printed open.
"""
