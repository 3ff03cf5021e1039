"""The documents are true: what they name exists."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md", "resources/window.md", "resources/command-line.md")
SUFFIXES = (".py", ".md", ".sh", ".toml", ".txt", ".stl", ".3mf", ".png")
MADE_LATER = ("out/", "dist/", ".venv", "/")


def paths_named_in(text: str) -> set[str]:
    """Everything in code spans, code blocks and link targets that looks like a path of this checkout."""
    code = re.findall(r"`([^`\n]+)`", text) + re.findall(r"^(?: {4}|\t)(.+)$", text, re.MULTILINE)
    code += re.findall(r"^```.*\n([\s\S]*?)^```", text, re.MULTILINE)
    words = {word.strip("(),:;\"'") for span in code for word in span.split()}
    links = {link.split("#")[0] for link in re.findall(r"\]\(([^)\s]+)\)", text) if "://" not in link}
    return {word for word in words | links if looks_like_a_path(word)}


def looks_like_a_path(word: str) -> bool:
    if word == "." or "://" in word or word.startswith(MADE_LATER) or not re.fullmatch(r"[\w./*-]+", word):
        return False
    first = word.split("/", maxsplit=1)[0]
    return (
        ("/" in word and (ROOT / first).exists()) or (ROOT / word).exists() or ("/" in word and word.endswith(SUFFIXES))
    )


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_path_that_a_document_names_exists(document: str) -> None:
    named = paths_named_in((ROOT / document).read_text())
    assert named
    assert sorted(path for path in named if not any(ROOT.glob(path.rstrip("/")))) == []


def test_a_wrong_path_would_be_seen() -> None:
    assert paths_named_in("see `ventplanner/nowhere.py` and [this](tests/nothing/)") == {
        "ventplanner/nowhere.py",
        "tests/nothing/",
    }
