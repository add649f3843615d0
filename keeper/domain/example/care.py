"""Meals and weights of the example, a season in one entry, its places and chores."""

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.places import writes as places
from keeper.domain.today import writes as today

Event = Mapping[str, Any]


class Care:
    """Enters what was done for the animals that were entered so far, by their codes."""

    def __init__(self, by: m.Account, animals: dict[str, m.Animal]) -> None:
        self.by, self.animals = by, animals
        self.does: dict[str, Callable[[Event], m.DaybookEntry]] = {
            "care": self._care,
            "places": self._places,
            "chore": self._chore,
        }

    def _care(self, event: Event) -> m.DaybookEntry:
        """A sheet of the keeper's, copied into the book: all of its rows are one entry."""
        meals = [
            m.Meal(
                animal=self.animals[code],
                on=date.fromisoformat(day),
                prey=event["prey"][prey],
                grams=grams,
                outcome=outcome,
            )
            for day, rows in event["meals"].items()
            for code, prey, grams, outcome in rows
        ]
        weights = [
            m.Weight(animal=self.animals[code], on=date.fromisoformat(day), grams=Decimal(grams))
            for day, rows in event["weights"].items()
            for code, grams in rows
        ]
        what = f"Copied from the feeding sheet: {len(meals)} meals, {len(weights)} weights"
        with writing(by=self.by, what=what) as book:
            book.keep_many([*meals, *weights])
        return book.entry

    def _chore(self, event: Event) -> m.DaybookEntry:
        on = date.fromisoformat(event["by"])
        chore = m.Chore(what=event["what"], on=on, every=event["every"])
        return today.add_chore(chore=chore, by=self.by)

    def _places(self, event: Event) -> m.DaybookEntry:
        return places.enter_written(by=self.by)
