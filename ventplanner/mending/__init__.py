"""From a damaged mesh to a closed one: each step is a pure function that returns the mesh and tells what it did."""
