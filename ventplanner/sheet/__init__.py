"""The sheet for the bench: what was planned, verified and is left to do, as PDF or HTML, and the vents as CSV.

`compose` makes a `Sheet` of a finished job, a document of plain blocks; `pdf` and `html` write the same blocks, so both
tell the same. Pictures are made of rays through the mesh and need no screen and no graphics card.
"""
