"""A book with many meals: what pages and a round cost in processor time, queries and bytes.

    .venv/bin/python -m tests.benchmarks.husbandry [--animals 10000] [--meals 1000000]

Rows are put in by bulk, past the daybook, with their histories and touches, so that the tables are
as large as they would have grown; opening pages and saving a round go the way of a keeper.
"""

import argparse
from collections.abc import Callable
from datetime import date, timedelta
from statistics import quantiles
from time import process_time
from typing import Any

from tests.benchmarks.scratch import scratch_book

_A_RACK = 30
_BATCH = 20_000


def main() -> None:
    """Make the book, measure, print."""
    options = _options()
    with scratch_book():
        from django.db import connection

        before = _bytes(connection)
        owner, animals = _animals(options.animals)
        plain = _bytes(connection)
        _meals(owner, animals, options.meals)
        grown = _bytes(connection)
        print(f"animals {(plain - before) / options.animals:.0f} bytes each")
        print(f"meals {(grown - plain) / options.meals:.0f} bytes each, history and touch included")
        _measure(owner, animals, options.times)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--animals", type=int, default=10_000)
    parser.add_argument("--meals", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=20)
    return parser.parse_args()


def _bytes(connection: Any) -> int:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count")
        pages = cursor.fetchone()[0]
        cursor.execute("PRAGMA page_size")
        return int(pages * cursor.fetchone()[0])


def _animals(number: int) -> tuple[Any, list[Any]]:
    from keeper import models as m

    owner = m.Account.objects.create(name="Mara", role="owner")
    species = m.Species.objects.create(name="Royal python", sex_determination="XY")
    rows = [
        m.Animal(
            species=species, code=f"A-{one:05}", sex=("male", "female")[one % 2],
            place=f"Rack {one // _A_RACK} · {one % _A_RACK}",
        )
        for one in range(number)
    ]  # fmt: skip
    m.Animal.objects.bulk_create(rows)
    return owner, rows


def _meals(owner: Any, animals: list[Any], number: int) -> None:
    """A meal a week each, back from today; one in ten refused; each round an entry."""
    from django.contrib.contenttypes.models import ContentType
    from django.db import transaction
    from django.utils import timezone

    from keeper import models as m

    today = timezone.localdate()
    kind = ContentType.objects.get_for_model(m.Meal)
    weeks = number // len(animals)
    for back in reversed(range(1, weeks + 1)):
        with transaction.atomic():
            entry = m.DaybookEntry.objects.create(by=owner, what="Fed")
            day = today - timedelta(weeks=back)
            meals = [
                m.Meal(animal=one, on=day, prey="rat", grams=60, outcome=_outcome(place, back))
                for place, one in enumerate(animals)
            ]
            m.Meal.objects.bulk_create(meals, batch_size=_BATCH)
            m.Meal.history.bulk_history_create(meals, default_user=owner, batch_size=_BATCH)
            m.Touch.objects.bulk_create(
                [
                    m.Touch(
                        entry=entry, record_type=kind, record_id=one.pk, history_id=one.pk,
                        created=True,
                    )
                    for one in meals
                ],
                batch_size=_BATCH,
            )  # fmt: skip
            if back % 4 == 1:
                _weigh(animals, day)


def _outcome(place: int, back: int) -> str:
    return "refused" if (place * 7 + back * 3) % 10 == 0 or (place % 200 == 0 and back < 9) else (
        "taken"
    )  # fmt: skip


def _weigh(animals: list[Any], day: date) -> None:
    from keeper import models as m

    m.Weight.objects.bulk_create(
        [m.Weight(animal=one, on=day, grams=1200 + place % 90) for place, one in enumerate(animals)]
    )


def _measure(owner: Any, animals: list[Any], times: int) -> None:
    from django.core.cache import cache
    from django.test import Client
    from django.utils import timezone

    from keeper import models as m
    from keeper.domain.husbandry.writes import Fed, feed

    client = Client(SERVER_NAME="localhost")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    step = max(1, len(animals) // times)

    def opened(address: str) -> Callable[[int], None]:
        def open_it(n: int) -> None:
            answer = client.get(address.format(pk=animals[n * step % len(animals)].pk, rack=n))
            if answer.status_code != 200:
                raise AssertionError(f"{address}: {answer.status_code}")

        return open_it

    def first_of_the_day(n: int) -> None:
        cache.clear()
        opened("/")(n)

    def after_an_entry(n: int) -> None:
        m.DaybookEntry.objects.create(by=owner, what="Something")
        opened("/")(n)

    def round_(n: int) -> None:
        rack = animals[n * _A_RACK : (n + 1) * _A_RACK]
        fed = [Fed(one, m.Outcome.TAKEN) for one in rack]
        day = timezone.localdate()
        feed(fed=fed, where=f"Rack {n}", prey="rat", grams=60, on=day, by=owner)

    for what, act in {
        "Today, nothing kept": first_of_the_day,
        "Today after an entry": after_an_entry,
        "Today": opened("/"),
        "the list": opened("/animals/"),
        "an animal": opened("/animals/{pk}/"),
        "its husbandry": opened("/animals/{pk}/husbandry/"),
        "a round's page": opened("/animals/round/?within=Rack+{rack}"),
        "one by one": opened("/animals/round/each/?within=Rack+{rack}"),
        "places": opened("/animals/places/"),
        "saving a round of 30": round_,
    }.items():
        _print(what, act, times)


def _print(what: str, act: Callable[[int], None], times: int) -> None:
    from django.db import connection

    asked: list[str] = []

    def note(execute: Any, sql: str, parameters: Any, many: bool, context: Any) -> Any:
        asked.append(sql)
        return execute(sql, parameters, many, context)

    with connection.execute_wrapper(note):
        act(0)
    spent = []
    for n in range(1, times + 1):
        begun = process_time()
        act(n)
        spent.append(1000 * (process_time() - begun))
    parts = quantiles(spent, n=20, method="inclusive")
    print(f"{what:24} p50 {parts[9]:7.1f} ms   p95 {parts[18]:7.1f} ms   {len(asked)} queries")


if __name__ == "__main__":
    main()
