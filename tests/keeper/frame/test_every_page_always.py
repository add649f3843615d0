"""No page ever fails because of a withdrawn trait, line, member or animal.

Thirty steps here, and after each that was not refused every address once, of a record that counts
or of one that was withdrawn as it falls; many more steps, and both each time: `python -m
tests.load.pages`.
"""

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from tests.keeper.world import World, walk

STEPS = 15


@pytest.mark.django_db
@pytest.mark.parametrize("seed", [1, 3])
def test_every_page_opens_after_whatever_was_written_withdrawn_and_undone(
    owner_client: Client, owner: m.Account, seed: int
) -> None:
    assert walk(owner_client, World(owner, seed, both=False), STEPS) > 100 * STEPS
    assert inference.differences() == []
