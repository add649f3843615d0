"""Several people post at the same moment: what one round of it is, and what must hold after it.

`rounds` is run by a short test and, long, by `python -m tests.load.writing`.
"""

import random
from collections.abc import Callable, Sequence
from typing import Any

from django.db import connection
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from tests.keeper.books import Book
from tests.keeper.looking import observe
from tests.keeper.sent import filled, opened
from tests.keeper.world import DAY

# One post: whose, where, and what is sent.
Post = tuple[m.Account, str, dict[str, str]]
# Sends some posts at the same moment; returns the status of each.
Sender = Callable[[Sequence[Post]], list[int]]


def post(one: Post) -> int:
    """Send one post as its account's browser would, on a connection of its own."""
    account, address, form = one
    try:
        return browser(account).post(address, form).status_code
    finally:
        connection.close()


def browser(account: m.Account) -> Client:
    """A browser in which somebody is logged in; what fails answers 500, as it would there."""
    client = Client(raise_request_exception=False)
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client


class Together:
    """A small book, two people, and the rounds."""

    def __init__(self, owner: m.Account, helper: m.Account, send: Sender, seed: int = 1) -> None:
        self.owner, self.helper, self.send = owner, helper, send
        self.draw = random.Random(seed)
        self.book = Book(owner)
        self.dam = self.book.founder("F-1", "female", "possible", "1/2")
        self.sire = self.book.founder("M-1", "male", "possible", "1/2")
        self.number = 0

    def rounds(self, count: int) -> None:
        """Go through each kind of round in turn, and compare with a recompute at the end."""
        kinds = [self.hatch, self.fields, self.one_field, self.undo, self.record, self.withdraw]
        for number in range(count):
            kinds[number % len(kinds)]()
        assert inference.differences() == []

    def _sent(self, *posts: Post) -> list[int]:
        found = self.send(posts)
        assert set(found) <= {200, 302, 404}, found
        return found

    def _clutch(self) -> m.Clutch:
        self.number += 1
        return self.book.clutch(f"C-{self.number}", self.dam, self.sire)

    def _counted(self, account: m.Account, clutch: m.Clutch) -> Post:
        address = f"/clutches/{clutch.pk}/hatch/"
        form = filled(browser(account), address)
        counts = [name for name in form if name.endswith("count")]
        return account, address, form | {counts[0]: "1", "still_open": "on", "scope": "whole"}

    def hatch(self) -> None:
        """One hatchling, posted four times from two log-ins: it counts once."""
        clutch = self._clutch()
        mine, theirs = self._counted(self.owner, clutch), self._counted(self.helper, clutch)
        found = self._sent(mine, mine, theirs, mine)
        assert 302 in found
        rows = list(m.HatchRow.objects.live().filter(clutch=clutch).values_list("count", flat=True))
        assert rows == [1]

    def _edited(self, account: m.Account, animal: m.Animal, **changed: str) -> Post:
        address = f"/animals/{animal.pk}/change/"
        return account, address, filled(browser(account), address) | changed

    def _animal(self) -> m.Animal:
        self.number += 1
        return self.book.young(f"K-{self.number}", self._clutch(), seen=None)

    def fields(self) -> None:
        """Two fields of one animal from two tabs: both are kept."""
        animal = self._animal()
        found = self._sent(
            self._edited(self.owner, animal, place="Rack 2"),
            self._edited(self.helper, animal, name="Ember"),
        )
        animal.refresh_from_db()
        assert (found, animal.place, animal.name) == ([302, 302], "Rack 2", "Ember")

    def one_field(self) -> None:
        """One field to two values: one is kept, the other is shown what happened."""
        animal = self._animal()
        found = self._sent(
            self._edited(self.owner, animal, place="Rack 2"),
            self._edited(self.helper, animal, place="Rack 3"),
        )
        animal.refresh_from_db()
        kept = dict(zip(("Rack 2", "Rack 3"), found, strict=True))
        assert sorted(found) == [200, 302]
        assert kept[animal.place] == 302

    def undo(self) -> None:
        """One entry taken back by two at once: once."""
        animal = self._animal()
        entry = observe(animal=animal, trait=self.book.trait, seen="no", on=DAY, by=self.owner)
        address = f"/daybook/{entry.pk}/undo/"
        page = f"/daybook/{entry.pk}/"
        posts: list[Post] = [
            (self.owner, address, opened(browser(self.owner), page, address)) for _ in range(2)
        ]
        self._sent(*posts)
        entry.refresh_from_db()
        assert entry.undone_by is not None
        assert m.DaybookEntry.objects.filter(what=f"Undone: {entry.what}").count() == 1

    def record(self) -> None:
        """One hatchling counted, two records asked for: one is made."""
        clutch = self._clutch()
        assert self._sent(self._counted(self.owner, clutch)) == [302]
        row = m.HatchRow.objects.live().get(clutch=clutch)
        address = f"/clutches/rows/{row.pk}/record/"
        posts: list[Post] = [
            (one, address, filled(browser(one), address)) for one in (self.owner, self.helper)
        ]
        posts[1][2]["code"] = f"{posts[1][2]['code']}-b"
        found = self._sent(*posts)
        assert sorted(found) == [200, 302]
        assert m.Animal.objects.live().filter(hatch_row=row).count() == 1

    def withdraw(self) -> None:
        """A sire withdrawn while a clutch of his is entered: not both."""
        self.number += 1
        sire = self.book.founder(f"M-{self.number + 1}", "male", "carries")
        laid = "/clutches/new/"
        form: dict[str, Any] = filled(browser(self.owner), laid) | {
            "dam": self.dam.code, "sire_1": sire.code, "code": f"N-{self.number}",
        }  # fmt: skip
        gone = f"/animals/{sire.pk}/withdraw/"
        away = opened(browser(self.helper), gone) | {"reason": "a slip"}
        self._sent((self.owner, laid, form), (self.helper, gone, away))
        sire.refresh_from_db()
        named = m.CandidateSire.objects.live().filter(sire=sire).exists()
        assert named != sire.is_withdrawn
