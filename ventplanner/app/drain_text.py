"""What `drain` prints."""

from __future__ import annotations

from ventplanner.app.draining import (
    CAUTIONS,
    LEAST_MM3,
    DrainedPart,
    clings,
    lasts,
    left_texts,
    ml,
    pool_text,
    ran_out,
)


def drain_text(part: DrainedPart) -> str:
    """The pour plan in words."""
    done, count = part.done, len(part.findings.cavities)
    path = part.findings.solid.source.path
    holds = f"its {count} {'cavity' if count == 1 else 'cavities'} and other hollows hold up to {ml(done.full)}"
    lines = [f"{path}: {holds}.", ""]
    for n, (step, text) in enumerate(zip(done.steps, part.moves, strict=True), start=1):
        ran = ran_out(step, part.plan)
        lines += [f"{n}. {text}", f"   {lasts(step).capitalize()}. {ran} In the part: {ml(step.left)}."]
        if part.is_given:
            lines += [f"   {pool_text(pool)}" for pool in step.pools if pool.volume >= LEAST_MM3]
    lines += ["", f"Stays in pools: {ml(done.left)}."]
    lines += [f"  {text}" for text in left_texts(part)]
    lines += [
        clings(done),
        "",
        *part.advice,
        "",
        *CAUTIONS,
    ]
    return "\n".join(lines)
