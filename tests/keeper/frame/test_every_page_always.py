"""No page ever fails because of a withdrawn trait, line, member or animal."""

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from tests.keeper.world import World

STEPS = 10


def walk(client: Client, world: World, steps: int) -> int:
    """Do random things, and open every page after each; return how many were opened."""
    opened = 0
    done: list[str] = []
    for _ in range(steps):
        done.append(world.act())
        for address in world.addresses():
            answer = client.get(address)
            assert answer.status_code in (200, 302, 403, 404, 405), (address, done)
            opened += 1
    return opened


@pytest.mark.django_db
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_page_opens_after_whatever_was_written_withdrawn_and_undone(
    owner_client: Client, owner: m.Account, seed: int
) -> None:
    world = World(owner, seed)
    assert walk(owner_client, world, STEPS) > 100 * STEPS
    assert inference.differences() == []
