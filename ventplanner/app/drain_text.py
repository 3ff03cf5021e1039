"""What `drain` prints."""

from __future__ import annotations

from ventplanner.app.draining import CAUTIONS, LEAST_MM3, DrainedPart, lasts, ml, pool_text, where


def drain_text(part: DrainedPart) -> str:
    """The pour plan in words."""
    done, count = part.done, len(part.findings.cavities)
    path = part.findings.solid.source.path
    holds = f"its {count} {'cavity' if count == 1 else 'cavities'} and other hollows hold up to {ml(done.full)}"
    lines = [f"{path}: {holds}.", ""]
    for n, (step, text) in enumerate(zip(done.steps, part.moves, strict=True), start=1):
        ran = f"Runs out: {', '.join(where(ran, part.plan) for ran in step.ran)}." if step.ran else "Nothing runs out."
        lines += [f"{n}. {text}", f"   {lasts(step).capitalize()}. {ran} In the part: {ml(step.left)}."]
        if part.is_given:
            lines += [f"   {pool_text(pool)}" for pool in step.pools if pool.volume >= LEAST_MM3]
    lines += ["", f"Stays in pools: {ml(done.left)}."]
    lines += [
        f"  {f'Cavity {one.cavity}' if one.cavity else 'Outside'}: {ml(one.volume)}. {text}"
        for one, text in zip(done.left_where, part.reasons, strict=True)
        if one.volume >= LEAST_MM3
    ]
    lines += [
        f"Clings to the walls as a film: about {ml(done.film)}."
        f" At most, if drops hang in every hole: {ml(done.at_most)} in all.",
        "",
        *part.advice,
        "",
        *CAUTIONS,
    ]
    return "\n".join(lines)
