"""Files that ship with the program."""

from __future__ import annotations

import pytest

from ventplanner import resources
from ventplanner.errors import InputError


def test_a_resource_is_found_in_the_checkout() -> None:
    assert resources.resource("CHANGELOG.md").read_text().startswith("# Changes")


def test_a_missing_resource_says_what_to_do() -> None:
    with pytest.raises(InputError, match=r"resources/nothing\.txt.*Install"):
        resources.resource("nothing.txt")


def test_every_sample_is_found_by_its_name_and_by_its_stem() -> None:
    for path in resources.samples():
        assert resources.sample(path.name) == path
        assert resources.sample(path.stem).stem == path.stem


def test_an_unknown_sample_is_answered_with_the_names_there_are() -> None:
    with pytest.raises(InputError) as caught:
        resources.sample("kraken")
    assert all(path.stem in str(caught.value) for path in resources.samples())
