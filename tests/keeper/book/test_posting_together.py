"""Forms posted at the same moment: nothing is written twice, lost, or left hanging.

Each kind of round once here; two hundred of them, by threads and by processes:
`python -m tests.load.writing`.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.factories import AccountFactory
from tests.load.together import Post, Together, post


def by_threads(posts: Sequence[Post]) -> list[int]:
    with ThreadPoolExecutor(len(posts)) as hands:
        return list(hands.map(post, posts))


@pytest.mark.sockets  # the other database is reached over one
@pytest.mark.django_db(transaction=True)
def test_what_is_posted_at_the_same_moment_counts_once_and_loses_nothing() -> None:
    owner = AccountFactory.create(name="Mara", role="owner")
    helper = AccountFactory.create(name="Tobin")
    Together(owner, helper, by_threads).rounds(6)
