"""Files: meshes, saved plans and reports."""
