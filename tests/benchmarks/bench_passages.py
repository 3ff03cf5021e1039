"""What the search for a passage costs at a million triangles, as a share of analysing the part.

    PYTHONPATH=. python tests/benchmarks/bench_passages.py

A hull with a wide chamber and a keel behind 5 mm of material from it, each finely meshed; once where a straight passage
fits, once where two legs must go round a slot, once where there is none.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from bodies import box, cut, inward, solid
from hollow_parts import fine

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.solid import Solid
from ventplanner.options import VentRules
from ventplanner.plan.passage_search import Found, Search
from ventplanner.plan.passages import find_passage
from ventplanner.plan.placement import propose
from ventplanner.plan.venting import tools_of

RULES = VentRules(passages="auto", longest_wall_mm=8.0)


def keel() -> Solid:
    """1.06 million triangles: a straight passage fits."""
    skins = box(54.0), box((40.0, 16.0, 18.0), (0.0, -11.0, 2.0)), box((8.0, 8.0, 10.0), (0.0, 6.0, 0.0))
    outer, chamber, deep = (fine(skin, 8 if k == 0 else 7) for k, skin in enumerate(skins))
    return solid(outer, inward(chamber), inward(deep))


def slotted(half: float) -> Solid:
    """About 1.2 million triangles: a slot between both hollows, this many mm half as wide as is needed to get round."""
    hull = cut(box((90.0, 60.0, 60.0)), box((2.0 * half, 2.0, 200.0), (0.0, -3.0, 0.0)))
    chamber, deep = box((50.0, 20.0, 20.0), (0.0, -18.0, 2.0)), box((10.0, 10.0, 12.0), (0.0, 10.0, 0.0))
    return solid(fine(hull, 7), inward(fine(chamber, 7)), inward(fine(deep, 7)))


def search(findings: Findings, rules: VentRules) -> Search:
    """For the cup of B when only A has its vents."""
    proposed = propose(findings, VentRules())
    plan = replace(proposed, vents=tuple(v for v in proposed.vents if v.cavity == "A"), passages=())
    tools = tools_of(findings, plan)
    now = findings.scene.cups(tools)
    start = findings.cavity("B").cups[0].cup.start
    number = int(np.argmin([np.linalg.norm(c.start - start) for c in now.cups]))
    return Search(findings, now, number, "B", "B1", rules, tools)


def timed(work: Callable[[], object], times: int = 3) -> float:
    """Median seconds of processor time."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return statistics.median(spent)


def main() -> int:
    """Measure three parts."""
    longer = replace(RULES, longest_wall_mm=30.0)
    cases = (("straight", keel(), RULES), ("two legs", slotted(20.0), longer), ("none", slotted(43.0), longer))
    for name, part, rules in cases:
        start = time.process_time()
        findings = analyse(part)
        analysed = time.process_time() - start
        for warm in (search(findings, rules),):
            found = find_passage(warm)
        base = search(findings, rules)
        once = timed(lambda b=base: find_passage(replace(b)))  # type: ignore[misc]
        share = once / analysed
        told = f"{len(found.passage.points_mm) - 1} leg(s)" if isinstance(found, Found) else found.sentence[:60]
        print(f"{name:9} {len(part.faces):8} triangles  search {once:5.2f} s, {share:.2f} of the analysis  {told}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
