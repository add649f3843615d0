"""What is claimed of the published check values themselves: how well each is known."""

import re

import pytest

from tests.genetics.published import CHECKS

STATUSES = {"verified", "verified-partly", "verified-secondary", "derived", "memory"}
# Words of a source that stand for none.
NO_SOURCE = re.compile(r"\bany text\b|\bclass (?:notes|pages)\b", re.IGNORECASE)


@pytest.mark.parametrize("name", CHECKS)
def test_each_value_says_how_well_it_is_known_and_from_where(name: str) -> None:
    check = CHECKS[name]
    assert check["status"] in STATUSES
    assert not NO_SOURCE.search(check["source"])


@pytest.mark.parametrize(
    "name", [name for name, one in CHECKS.items() if one["status"].startswith("verified-")]
)
def test_what_is_verified_in_part_or_at_second_hand_says_which_part(name: str) -> None:
    assert CHECKS[name].get("note")


@pytest.mark.parametrize(
    ("name", "status"),
    [
        *((one, "derived") for one in ("B2.sib23", "B2.cousin")),
        *((one, "verified-partly") for one in ("R4.ratsnake", "K6.roan", "M1.selfing")),
        *((one, "verified-secondary") for one in ("P5.morrill", "E7.oats")),
    ],
)
def test_no_value_claims_more_than_was_read(name: str, status: str) -> None:
    assert CHECKS[name]["status"] == status
