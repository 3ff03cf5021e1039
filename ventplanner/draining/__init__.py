"""After the print: how a part drains, in which pose, turning which way, how long, and what stays where.

`planning.drain(findings, plan, profile, progress) -> model.Drained` finds the pour plan and follows it,
`planning.follow` one of given poses. All values are frozen and in the file's axes unless they say else:

- `model.Drained`: full, steps, left, left_where, film, at_most, notes; cells and `liquid(step)` for a picture.
- `model.Step`: how ("hanging", "taken off", "turn"), gravity, wait_s, wait_most_s, left, out, ran, pools, air, shake,
  rest.
- `model.Pool`: cavity, volume, level_mm (height of the surface along -gravity), depth_mm, at_mm.
- `model.Ran`: cavity, through, to, volume. `model.Left`: cavity, volume, why, at_mm.
- `changes.changes(findings, plan, drained, profile) -> (Change, ...)`: vents that would bring out more, each with the
  plan that has it; `reaching.reached(findings, drained) -> (Reached, ...)`: what can be rinsed and lit.
- `cells.Cells`: volume, place, cavity, far of each cell (build axes); `bath.Bath`: a part with liquid in it that is
  held (`rest`) and turned (`turned`); `tilt.Tilt`: one way to hold it, `tilt.Settled`: liquid at rest, with the level
  of each cell; `mouths.Mouth`: the holes that it takes.
"""
