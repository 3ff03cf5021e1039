"""Keeps Python's search for unreachable objects short, so that it never holds up the window.

A full search walks over every object there is. Most of them are the modules, classes and compiled loops of the
libraries: they stay until the program ends, and looking at them again and again took 100 to 500 ms each time, in
whichever thread had just made the one object too many. Once they are loaded they are put aside.
"""

from __future__ import annotations

import gc


def put_aside() -> None:
    """Leave what is loaded by now out of all later searches: for when libraries have been loaded."""
    gc.freeze()
