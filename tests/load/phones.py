"""Two phones without a connection, a thousand entries, arriving in random orders.

    .venv/bin/python -m tests.load.phones --each 500 --orders 3

Each order must end in the same book, with nothing lost and nothing doubled. The book is made in a
folder of its own and thrown away.
"""

import argparse
import os
import random
import tempfile
import time


def main() -> None:
    """Send all of both phones in several orders, and compare the books."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--each", type=int, default=500, help="entries on each phone")
    asked.add_argument("--orders", type=int, default=3, help="orders of arrival")
    args = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["KEPTLINES_DATA"] = folder
        os.environ["KEPTLINES_SERVE"] = "loopback"
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keeper.settings")
        import django

        django.setup()
        _compare(args.each, args.orders)


def _compare(each: int, orders: int) -> None:
    from django.conf import settings
    from django.core.management import call_command
    from django.db import transaction

    from keeper import models as m
    from tests.factories import AccountFactory
    from tests.keeper.offline.phones import Phone, arrive, filled_phones, noted

    settings.ALLOWED_HOSTS = ["testserver"]
    call_command("migrate", verbosity=0)
    phones = (Phone(AccountFactory.create(role="owner")), Phone(AccountFactory.create()))
    filled_phones(phones, each, random.Random(1))
    books = []
    for seed in range(orders):
        began = time.perf_counter()
        with transaction.atomic():
            arrive(phones, random.Random(seed))
            assert m.DaybookEntry.objects.count() == 2 * each
            books.append(noted())
            transaction.set_rollback(True)
        took = time.perf_counter() - began
        assert set(books[-1].values()) == {1}
        print(f"order {seed}: {2 * each} entries, {len(books[-1])} notes, {took:.1f} s")
    assert all(book == books[0] for book in books)
    print(f"{orders} orders of arrival end in the same book.")


if __name__ == "__main__":
    main()
