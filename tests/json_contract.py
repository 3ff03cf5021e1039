"""The documented form of the JSON, read from resources/json-format.md, and whether a report keeps to it.

`python tests/json_contract.py` renews the example of the document.
"""

from __future__ import annotations

import io
import json
import math
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
DOCUMENT = ROOT / "resources" / "json-format.md"
EXAMPLE = ["vent", "samples/seal-pup.stl", "--out", "vented.stl", "--json"]
SHOWN_NUMBERS = 3
HOLLOW = "## `hollow`"
MEND = "## `mend`"
DRAIN = "## `drain`"
ORIENT = "## `orient`"


def _number(value: Any) -> bool:
    return type(value) in (int, float) and math.isfinite(value)


def _point(value: Any) -> bool:
    return isinstance(value, list) and len(value) == 3 and all(map(_number, value))


TYPES: dict[str, Callable[[Any], bool]] = {
    "text": lambda v: isinstance(v, str),
    "integer or null": lambda v: v is None or type(v) is int,
    "text or null": lambda v: v is None or isinstance(v, str),
    "integer": lambda v: type(v) is int,
    "number": _number,
    "number or null": lambda v: v is None or _number(v),
    "point": _point,
    "point or null": lambda v: v is None or _point(v),
    "two points": lambda v: isinstance(v, list) and len(v) == 2 and all(map(_point, v)),
    "list of points": lambda v: isinstance(v, list) and all(map(_point, v)),
    "list": lambda v: isinstance(v, list) and all(isinstance(x, dict) for x in v),
    "list of text": lambda v: isinstance(v, list) and all(isinstance(x, str) for x in v),
    "list of numbers": lambda v: isinstance(v, list) and all(map(_number, v)),
    "true": lambda v: v is True,
    "truth": lambda v: type(v) is bool,
}


def documented() -> tuple[dict[str, str], dict[str, str]]:
    """Key to type, as the two tables say: of every report, and what `vent` adds."""
    both = DOCUMENT.read_text(encoding="utf-8").split(HOLLOW)[0].split("`vent` adds:")
    found = [dict(re.findall(r"^\| `([^`]+)` \| ([^|]+?) \|", text, re.MULTILINE)) for text in both]
    every, added = found
    every.pop("as_printed.vents")
    every |= {
        key.replace("openings", "vents"): kind for key, kind in every.items() if key.startswith("as_printed.openings")
    }
    for after in ("cavities_after", "sealed_area_after", "flow.cups_after", "flow.cups_after_as_printed"):
        like = after.removesuffix("_as_printed").removesuffix("_after")
        added.pop(after)
        added |= {after + key.removeprefix(like): kind for key, kind in every.items() if key.startswith(like)}
    holes = {key: kind for key, kind in every.items() if key.startswith("as_printed.vents")}
    added |= {key.replace("vents", "passages"): kind for key, kind in holes.items()}
    added.pop("vents[].alternatives[].figures")
    added |= {k.replace("[].figures", "[].alternatives[].figures"): v for k, v in added.items() if "[].figures." in k}
    return every, every | added


def hollow_problems(report: dict[str, Any]) -> list[str]:
    """What in a report of `hollow` is not as its own table says."""
    text = DOCUMENT.read_text(encoding="utf-8").split(HOLLOW)[1].split(MEND)[0]
    return problems(report, dict(re.findall(r"^\| `([^`]+)` \| ([^|]+?) \|", text, re.MULTILINE)))


def mend_problems(report: dict[str, Any]) -> list[str]:
    """What in a report of `mend` is not as its own table says."""
    text = DOCUMENT.read_text(encoding="utf-8").split(MEND)[1].split(DRAIN)[0]
    return problems(report, dict(re.findall(r"^\| `([^`]+)` \| ([^|]+?) \|", text, re.MULTILINE)))


def drain_problems(report: dict[str, Any]) -> list[str]:
    """What in a report of `drain` is not as its own table says."""
    text = DOCUMENT.read_text(encoding="utf-8").split(DRAIN)[1].split(ORIENT)[0]
    return problems(report, dict(re.findall(r"^\| `([^`]+)` \| ([^|]+?) \|", text, re.MULTILINE)))


def orient_problems(report: dict[str, Any]) -> list[str]:
    """What in a report of `orient` is not as its own table says."""
    text = DOCUMENT.read_text(encoding="utf-8").split(ORIENT)[1]
    types = dict(re.findall(r"^\| `([^`]+)` \| ([^|]+?) \|", text, re.MULTILINE))
    types |= {k.replace("present.", "candidates[]."): v for k, v in types.items() if k.startswith("present.")}
    return problems(report, {k: v for k, v in types.items() if k not in ("present", "map")})


def leaves(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    """Dotted key and value of everything but objects; a list of objects is given itself, and then its elements."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from leaves(inner, f"{key}.{name}" if key else name)
        return
    yield key, value
    if isinstance(value, list):
        for element in value:
            if isinstance(element, dict):
                yield from leaves(element, f"{key}[]")


def is_of_type(value: Any, kind: str) -> bool:
    """Whether a value is what the document calls `kind`."""
    quoted = re.findall(r'"([^"]+)"', kind)
    return value in quoted if quoted else TYPES[kind](value)


def problems(report: dict[str, Any], types: dict[str, str]) -> list[str]:
    """What in a report is not as documented: unknown and missing keys, wrong types, nameless units."""
    found = list(leaves(report))
    keys = {key for key, _ in found}
    texts = [f"{key} is not documented" for key in sorted(keys - set(types))]
    for key in sorted(set(types) - keys):
        parent = key.rpartition("[]")[0]
        # An element's key is missing only where its list has elements.
        if not parent or any(k == parent and v for k, v in found):
            texts.append(f"{key} is missing")
    texts += [
        f"{key} is no {types[key]}: {v!r:.80}" for key, v in found if key in types and not is_of_type(v, types[key])
    ]
    return texts


def shortened(value: Any) -> Any:
    """The report as the document shows it: long lists of numbers cut to their first few."""
    if isinstance(value, dict):
        return {key: shortened(inner) for key, inner in value.items()}
    if isinstance(value, list):
        long = len(value) > SHOWN_NUMBERS and all(map(_number, value))
        return [shortened(inner) for inner in (value[:SHOWN_NUMBERS] if long else value)]
    return value


def example() -> dict[str, Any]:
    """The example of the document."""
    (text,) = re.findall(r"```json\n(.*?)```", DOCUMENT.read_text(encoding="utf-8"), re.DOTALL)
    value: dict[str, Any] = json.loads(text)
    return value


def _laid_out(value: Any, indent: str = "") -> str:
    """JSON with short values on one line."""
    text = json.dumps(value)
    if len(indent) + len(text) <= 140 or not isinstance(value, dict | list):
        return text
    inner = indent + "  "
    if isinstance(value, dict):
        parts = [f"{json.dumps(key)}: {_laid_out(v, inner)}" for key, v in value.items()]
    else:
        parts = [_laid_out(v, inner) for v in value]
    start, end = "{}" if isinstance(value, dict) else "[]"
    return start + "\n" + ",\n".join(inner + part for part in parts) + f"\n{indent}{end}"


def _renew() -> None:
    from ventplanner.cli import main

    printed = io.StringIO()
    with tempfile.TemporaryDirectory() as folder, redirect_stdout(printed):
        main([str(ROOT / w) if w.startswith("samples") else w.replace("vented", f"{folder}/vented") for w in EXAMPLE])
    report = json.loads(printed.getvalue()) | {"file": EXAMPLE[1]}
    text = DOCUMENT.read_text(encoding="utf-8")
    start = text.index("```json\n") + len("```json\n")
    end = text.index("```", start)
    DOCUMENT.write_text(text[:start] + _laid_out(shortened(report)) + "\n" + text[end:], encoding="utf-8")


if __name__ == "__main__":
    _renew()
