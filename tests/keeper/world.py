"""A book with one of everything, and random things that people do to it.

For tests that must hold in any book: `World(owner)` writes it, `act()` does one random thing, and
`addresses()` names every page, of what counts and of what was withdrawn.
"""

import io
import random
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from typing import Any
from unittest import mock

from django.apps import apps
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.db.models import Model
from django.test import Client
from django.urls import URLPattern, reverse
from PIL import Image

from keeper import models as m
from keeper.domain.animals.photos import add_photo
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.husbandry.queries import KINDS
from keeper.domain.imports import changing
from keeper.domain.imports.choices import Choices
from keeper.domain.labels.addresses import path_of
from keeper.domain.projects import writes as projects
from keeper.domain.prospects.writes import keep_prospect
from keeper.domain.register.withdrawing import restore, withdraw
from keeper.domain.sheets.writes import issue
from keeper.domain.stock.money import Money
from keeper.domain.stock.writes import begin_sales, offer
from keeper.urls import urlpatterns
from tests.factories import ContactFactory, LineFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.travel.rows import came_with

DAY = date(2026, 6, 1)

# The record that an address is of, by how its name begins; the longest that fits counts.
_SUBJECTS: dict[str, type[Model]] = {
    "animals": m.Animal,
    "animals-imports": m.Import,
    "animals-signed-paper": m.SignedPaper,
    "animals-observation": m.Observation,
    "animals-statement": m.Statement,
    "animals-statement-new": m.Animal,
    "animals-document": m.Paper,
    "animals-document-new": m.Animal,
    "animals-scan": m.Paper,
    "animals-photo": m.Photo,
    "animals-photos": m.Animal,
    "animals-photo-new": m.Animal,
    "animals-picture": m.Photo,
    "animals-lab-test": m.LabTest,
    "animals-lab-test-new": m.Animal,
    "animals-prospects": m.Prospect,
    "animals-way": m.Animal,
    "animals-way-noted": m.BreedingEvent,
    "animals-places": m.Place,
    "animals-labels": m.LabelRun,
    "animals-labels-sheet": m.LabelSheet,
    "clutches": m.Clutch,
    "clutches-record": m.HatchRow,
    "clutches-way-box": m.Incubation,
    "clutches-way-box-new": m.Clutch,
    "clutches-way-noted": m.ClutchStep,
    "daybook": m.DaybookEntry,
    "home-accounts": m.Account,
    "home-due": m.Chore,
    "home-self-passkeys": m.Passkey,
    "home-accounts-invitation": m.Invitation,
    "home-disputes": m.Dispute,
    "home-disputes-surprise": m.Surprise,
    "projects": m.Project,
    "projects-advice": m.Clutch,
    "projects-hold-young": m.Clutch,
    "projects-plan-give-up": m.Plan,
    "projects-season-pairing": m.PlannedPairing,
    "projects-review": m.Member,
    "projects-release": m.Member,
    "sheets": m.Sheet,
    "sheets-several": m.DaybookEntry,
    "animals-sale": m.Sale,
    "register-species": m.Species,
    "register-trait": m.Trait,
    "register-line": m.Line,
    "register-look": m.NamedLook,
    "register-lines-word": m.PairWord,
    "register-laboratory": m.Laboratory,
    "register-combination": m.Showing,
    "register-pair": m.OpenPair,
    "register-locus": m.Locus,
    "register-survival": m.Survival,
    "register-link": m.Interval,
    "register-contact": m.Contact,
}
# Records of these may be withdrawn by the word in the address.
_KINDS: dict[str, dict[str, type[m.Record]]] = {
    "animals-record": {
        "observation": m.Observation, "statement": m.Statement, "document": m.Paper,
        "lab-test": m.LabTest, "photo": m.Photo,
    },
    "daybook-withdrawn": {
        "animal": m.Animal, "statement": m.Statement, "clutch": m.Clutch, "contact": m.Contact,
        "member": m.Member,
    },
    "animals-husbandry-record": {
        "meal": m.Meal, "weight": m.Weight, "quarantine": m.Quarantine,
    },
    "register": {
        "species": m.Species, "traits": m.Trait, "lines": m.Line, "contacts": m.Contact,
        "combinations": m.Showing, "survivals": m.Survival, "links": m.Interval,
        "looks": m.NamedLook,
    },
}  # fmt: skip
_OF_KINDS = {
    "animals-record-withdraw": "animals-record",
    "animals-record-restore": "animals-record",
    "animals-husbandry-record-withdraw": "animals-husbandry-record",
    "register-withdraw": "register",
    "register-restore": "register",
    "daybook-withdrawn-bring-back": "daybook-withdrawn",
}
# Views with a name are of one person; an invitation's address is told once.
_NO_RECORD = ("animals-views", "invitation", "calendar")


class World:
    """The book, and what may happen to it."""

    def __init__(self, by: m.Account, seed: int, *, both: bool = True) -> None:
        self.by, self.draw, self.number, self.both = by, random.Random(seed), 0, both
        self.book = Book(by)
        self._register()
        self._animals()
        self._plans()

    # ---- the book ---------------------------------------------------------------------------

    def _register(self) -> None:
        book, species = self.book, self.book.species
        self.pel = LineFactory.create(trait=book.trait, code="PEL", locus__species=species)
        self.que = LineFactory.create(trait=book.trait, code="QUE", locus__species=species)
        single = TraitFactory.create(species=species, name="Sedge", shown="single")
        self.dun = LineFactory.create(trait=single, code="DUN", locus__species=species)
        with writing(by=self.by, what="The register") as entry:
            pair = sorted((book.line, self.pel), key=lambda one: one.pk)
            entry.keep(m.OpenPair(one=pair[0], other=pair[1], prior="1/2"))
            source = ContactFactory.create(name="Ansel of Pelnaw")
            entry.keep(
                m.PairWord(
                    one=pair[0], other=pair[1], one_gene=True, source=source, weight="1/4", on=DAY
                )
            )
            entry.keep(m.Trait(species=species, name="Deep Sedge", shown="every", base=single))
            entry.keep(
                m.Survival(locus=self.dun.locus, one=self.dun, other=self.dun, survival="1/2")
            )
            far = LineFactory.create(trait__species=species, trait__name="Drift", code="ULV")
            entry.keep(m.Interval(left=self.dun.locus, right=far.locus, female="1/10", male="1/10"))
            both = entry.keep(m.Trait(species=species, name="Fogbank", shown="rules"))
            showing = entry.keep(m.Showing(trait=both))
            entry.keep(m.Condition(showing=showing, dose="any"), lines=[self.dun])
            entry.keep(m.Condition(showing=showing, dose="every"), lines=[self.que])
            look = entry.keep(m.NamedLook(species=species, name="Neapsedge"))
            entry.keep(m.LookPart(look=look, trait=book.trait), lines=[book.line, self.que])
            entry.keep(m.LookPart(look=look, trait=single))
            self.laboratory = entry.keep(m.Laboratory(name="Cove", misses="1/50", mistakes="1/50"))

    def _animals(self) -> None:
        book = self.book
        dam = book.founder("F-1", "female", "carries")
        sire = book.founder("M-1", "male", "possible", "2/3")
        other = book.founder("M-2", "male", "visual", line=self.que)
        clutch = book.clutch("C-1", dam, sire, visual=1, normal=3)
        book.clutch("C-2", dam, sire, other, normal=2)
        book.young("K-1", clutch, seen=True, sex="female")
        # What cannot be: a hatchling that shows what its parents do not have.
        clear = book.founder("F-2", "female", "clear"), book.founder("M-3", "male", "clear")
        book.young("K-2", book.clutch("C-3", *clear), seen=True)
        with writing(by=self.by, what="Papers") as entry:
            entry.keep(
                m.Paper(animal=dam, source=m.Contact.objects.live()[0], dated=DAY, says="Het.")
            )
            entry.keep(
                m.LabTest(
                    animal=sire, line=book.line, found="carries", laboratory=self.laboratory, on=DAY
                )
            )
            entry.keep(m.Arising(animal=other, line=self.dun))
            # As if its hatch had been logged when a quarter was expected to show the trait.
            looks = [[[], [], 0.75], [[book.trait.pk], [], 0.25]]
            entry.keep(m.Foretold(clutch=clutch, sires=[[1.0, [[[1.0, looks]]]]], sons=0.5))
        add_photo(animal=dam, upload=picture(), by=self.by)
        self._care(dam, sire)
        self._stock(dam, other)

    def _care(self, dam: m.Animal, sire: m.Animal) -> None:
        with writing(by=self.by, what="Care") as entry:
            rack = entry.keep(m.Place(name="Rack 1", kind="rack"))
            entry.keep(m.Place(name="Rack 1 · 1", within=rack, holds=1))
            dam.place = "Rack 1 · 1"
            entry.keep(dam)
            sire.place = "Rack 2 · 4"
            entry.keep(sire)
            for animal in (dam, sire):
                entry.keep(m.Meal(animal=animal, on=DAY, prey="rat", grams=40))
                entry.keep(m.Weight(animal=animal, on=DAY, grams=1480))
            entry.keep(m.Quarantine(animal=sire, on=DAY, until=date(2026, 8, 1)))
            sheet = m.LabelSheet(name="A4", page_width=210, page_height=297, across=3, down=8)
            entry.keep(sheet)
            run = entry.keep(m.LabelRun(sheet=sheet, address="https://book.local", on=DAY))
            eggs = m.Clutch.objects.get(code="C-1")
            row = m.HatchRow.objects.live().filter(clutch=eggs).order_by("pk")[0]
            entry.keep(m.Label(run=run, number=1, animal=dam))
            entry.keep(m.Label(run=run, number=2, place=rack))
            entry.keep(m.Label(run=run, number=3, clutch=eggs))
            entry.keep(m.Label(run=run, number=4, clutch=eggs, row=row, tub=1))
            entry.keep(m.Chore(what="Air the room", on=DAY, every=14, place=rack))
            entry.keep(m.Chore(what="Weigh her", on=DAY, animal=dam, person=self.by))
            entry.keep(m.Arrangement(kind="quarantine", animal=sire, until=date(2026, 8, 4)))

    def _stock(self, offered: m.Animal, sold: m.Animal) -> None:
        offer(asked=[(offered, Money(Decimal(250), "EUR"))], on=DAY, by=self.by)
        sale = m.Sale(animal=sold, price=Decimal(90), currency="EUR", sold_on=DAY)
        begin_sales(sales=[sale], buyer=m.Contact.objects.live()[0], by=self.by)

    def _plans(self) -> None:
        book = self.book
        part = projects.Requirement(book.trait, book.line, m.Need.SHOWS)
        project = m.Project(species=book.species, name="Pale tide")
        look = m.NamedLook.objects.get()
        projects.start_project(project=project, parts=[part, look], by=self.by)
        projects.join(
            member=m.Member(
                project=project, animal=m.Animal.objects.get(code="K-1"), since=DAY, holdback=True,
                review_on=date(2027, 6, 1), reason="The only visual.",
            ),
            by=self.by,
        )  # fmt: skip
        dam, sire = (
            m.Animal.objects.live().filter(sex=sex).order_by("pk")[0] for sex in ("female", "male")
        )
        with writing(by=self.by, what="Planned") as entry:
            plan = entry.keep(m.Plan(project=project, chosen_on=DAY, eggs=5, seasons=4.0))
            shared = {"plan": plan, "chance": 0.5, "clutch_chance": 0.9, "known": False}
            first = entry.keep(
                m.PlanStep(
                    number=1, generation=1, dam=dam, sire=sire, keeps="a male", sex="male", **shared
                )
            )
            entry.keep(
                m.PlanStep(
                    number=2,
                    generation=2,
                    dam=dam,
                    sire_of=first,
                    keeps="the goal",
                    sex="any",
                    **shared,
                )
            )
            entry.keep(m.PlannedPairing(season=2027, dam=dam, sire=sire, reason="step 1"))
            entry.keep(m.BreedingEvent(dam=dam, sire=sire, kind="lock", on=DAY))
            eggs = m.Clutch.objects.live().order_by("pk")[0]
            entry.keep(m.Incubation(clutch=eggs, since=DAY, box="B 1"))
            entry.keep(m.ClutchStep(clutch=eggs, kind="candled", on=DAY, count=0))
        prospect = m.Prospect(species=book.species, name="grey female", sex="female", seen_on=DAY)
        word = m.ProspectWord(trait=book.trait, line=self.pel, claim="visual")
        keep_prospect(prospect=prospect, words=[word], by=self.by)
        sheet, _ = issue(animal=m.Animal.objects.get(code="K-1"), by=self.by)
        came_with(sheet)
        table = b"Code,Sex,Traits\nN-1,x,het Saltgrass\nN-2,f,het Nothing\n"
        brought = changing.begin(name="table.csv", data=table, by=self.by)
        choices = Choices(species=book.species.pk)
        changing.pick(one=brought, picks=brought.picks, choices=choices, version=0)

    # ---- what happens -----------------------------------------------------------------------

    def act(self) -> str:
        """Do one random thing, if it may be done; return what was tried."""
        deeds: list[Callable[[], None]] = [
            self.young, self.look, self.lay, self.statement, self.withdraw, self.withdraw,
            self.withdraw_of_the_register, self.restore, self.restore, self.undo, self.undo,
            self.release, self.issue,
        ]  # fmt: skip
        deed = self.draw.choice(deeds)
        try:
            with transaction.atomic():
                deed()
        except (ValidationError, Refused, IndexError) as refused:
            return f"{deed.__name__}: {refused}"
        return deed.__name__

    def code(self, letter: str) -> str:
        self.number += 1
        return f"{letter}-{90 + self.number}"

    def one(self, rows: Any) -> Any:
        return self.draw.choice(list(rows.order_by("pk")))

    def young(self) -> None:
        clutch = self.one(m.Clutch.objects.live())
        self.book.young(self.code("K"), clutch, seen=self.draw.choice([True, False, None]))

    def look(self) -> None:
        with writing(by=self.by, what="Looked") as entry:
            entry.keep(
                m.Observation(
                    animal=self.one(m.Animal.objects.live()),
                    trait=self.one(m.Trait.objects.live()),
                    seen=self.draw.choice(["yes", "no", "unsure"]), on=DAY, by=self.by,
                )
            )  # fmt: skip

    def lay(self) -> None:
        live = m.Animal.objects.live()
        dam, sire = self.one(live.filter(sex="female")), self.one(live.filter(sex="male"))
        self.book.clutch(self.code("C"), dam, sire, normal=self.draw.randint(1, 4))

    def statement(self) -> None:
        line = self.one(m.Line.objects.live())
        with writing(by=self.by, what="Said") as entry:
            self.book.say(entry, self.one(m.Animal.objects.live()), "carries", None, line)

    def record(self, rows: Callable[[type[m.Record]], Any]) -> Any:
        return self.one(rows(self.draw.choice([one for one in kinds() if rows(one).exists()])))

    def withdraw(self) -> None:
        record = self.record(lambda kind: kind.objects.live())
        with writing(by=self.by, what=f"Withdrew {record}") as entry:
            entry.withdraw(record, reason="at random")

    def withdraw_of_the_register(self) -> None:
        kind = self.draw.choice([m.Trait, m.Line, m.NamedLook, m.Contact, m.Species, m.Showing])
        withdraw(record=self.one(kind.objects.live()), by=self.by, reason="at random")

    def restore(self) -> None:
        record = self.record(lambda kind: kind.objects.withdrawn())
        kinds = m.Trait | m.Line | m.NamedLook | m.Showing | m.Contact | m.Species
        if isinstance(record, kinds):
            restore(record=record, by=self.by)
            return
        with writing(by=self.by, what=f"Restored {record}") as entry:
            entry.restore(record)

    def undo(self) -> None:
        entries = m.DaybookEntry.objects.filter(undone_by=None).order_by("-pk")
        undo(entry=self.draw.choice(list(entries[:12])), by=self.by, together=True)

    def release(self) -> None:
        member = self.one(m.Member.objects.live().filter(released_on=None))
        projects.release(member=member, on=date(2026, 7, 1), reason="at random", by=self.by)

    def issue(self) -> None:
        issue(animal=self.one(m.Animal.objects.live()), by=self.by)

    # ---- its pages --------------------------------------------------------------------------

    def addresses(self) -> Iterator[str]:
        """Every address: of one record that counts and of one that was withdrawn.

        Not of `both`: of either, as it falls.
        """
        for pattern in urlpatterns:
            yield from self._of(pattern)

    def _of_care(self) -> dict[str, list[str]]:
        """Addresses that name a kind of husbandry and an animal or a record of that kind."""
        animal, meal = self._two(m.Animal)[0], self._two(m.Meal)[0]
        new, record = "animals-husbandry-new", "animals-husbandry-record"
        kinds = (*KINDS, "none")
        return {
            new: [reverse(new, kwargs={"pk": animal, "kind": kind}) for kind in kinds],
            record: [reverse(record, kwargs={"pk": meal, "kind": one}) for one in ("meal", "none")],
        }

    def _of_labels(self, name: str) -> Iterator[str]:
        """What stands in the codes of labels, and a code of another book."""
        tub = name == "animals-at-tub"
        for label in m.Label.objects.filter(tub__isnull=not tub).order_by("pk"):
            yield path_of(label)
        none = {"kind": "a", "mark": "0" * 12} | ({"tub": 1} if tub else {})
        yield reverse(name, kwargs=none)

    def _of(self, pattern: URLPattern) -> Iterator[str]:
        name = pattern.name or ""
        wanted = pattern.pattern.converters.keys() | pattern.pattern.regex.groupindex.keys()
        if {"place", "name"} <= wanted:
            # A copy that is not there; the journeys open one that is.
            yield reverse(name, kwargs={"place": "nowhere", "name": "none.zip"})
            return
        if not wanted or name.startswith(_NO_RECORD):
            if not wanted:
                yield reverse(name)
            return
        if "mark" in wanted:
            yield from self._of_labels(name)
        elif name in ("animals-grounds", "animals-telling", "projects-proving-one"):
            yield from self._of_standings(name)
        elif name in _OF_KINDS:
            area = _OF_KINDS[name]
            for kind, model in _KINDS[area].items():
                for row in self._two(model):
                    yield reverse(name, kwargs={"kind": kind, "pk": row})
        elif {"one", "other"} <= wanted:
            for one, other in ((self.book.line.pk, self.pel.pk), (self.que.pk, self.dun.pk)):
                yield reverse(name, kwargs={"one": one, "other": other})
        elif "kind" in wanted:
            kinds_of = {
                "animals-export": ["csv", "xlsx"],
                "animals-diversity-export": ["animals", "founders", "lines", "years", "none"],
                "home-disputes-rate": ["look", "none"],
                "home-disputes-rate-reset": ["look", "none"],
            }
            if name in self._of_care():
                yield from self._of_care()[name]
                return
            for kind in kinds_of.get(name, ["recessive", "none"]):
                given: dict[str, Any] = {"kind": kind}
                if "species" in wanted:
                    given["species"] = self.book.species.pk
                yield reverse(name, kwargs=given)
        elif name.startswith("papers"):
            codes = m.Sheet.objects.exclude(page_code=None).order_by("pk")
            for code in codes.values_list("page_code", flat=True)[:2]:
                yield reverse(name, args=[code])
        elif "step" in wanted:
            for step in ("hand-over", "call-off", "take-back"):
                for pk in self._two(m.Sale):
                    yield reverse(name, kwargs={"pk": pk, "step": step})
        elif "size" in wanted:
            model = m.Sheet if name.startswith("sheets") else self._subject(name)
            for pk in self._two(model):
                yield reverse(name, kwargs={"pk": pk, "size": "a5"})
        elif "number" in wanted:
            for pk in self._two(m.Import):
                yield reverse(name, kwargs={"pk": pk, "number": 2})
        elif "key" in wanted:
            for pk in self._two(m.Dispute):
                yield reverse(name, kwargs={"pk": pk, "key": "none-such"})
        else:
            (word,) = wanted
            named: dict[str, Any] = {"trait": m.Trait, "species": m.Species, "locus": m.Locus}
            for pk in self._two(named.get(word) or self._subject(name)):
                yield reverse(name, kwargs={word: pk})

    def _of_standings(self, name: str) -> Iterator[str]:
        for animal in self._two(m.Animal):
            for trait in self._two(m.Trait):
                who = "animal" if name.startswith("projects-") else "pk"
                yield reverse(name, kwargs={who: animal, "trait": trait})

    @staticmethod
    def _subject(name: str) -> Any:
        fits = [one for one in _SUBJECTS if name == one or name.startswith(f"{one}-")]
        return _SUBJECTS[max(fits, key=len)]

    def _two(self, model: Any) -> list[int]:
        """One that counts and one that was withdrawn, if there are any; else any two."""
        if not issubclass(model, m.Record):
            rows = list(model.objects.order_by("pk").values_list("pk", flat=True))
            return self.draw.sample(rows, min(2 if self.both else 1, len(rows)))
        found = []
        for rows in (model.objects.live(), model.objects.withdrawn()):
            pks = list(rows.order_by("pk").values_list("pk", flat=True))
            found += [self.draw.choice(pks)] if pks else []
        return found if self.both or not found else [self.draw.choice(found)]


def picture() -> SimpleUploadedFile:
    """A small picture, as a browser sends it."""
    made = io.BytesIO()
    Image.new("RGB", (8, 8), "olive").save(made, "JPEG")
    return SimpleUploadedFile("picture.jpg", made.getvalue(), "image/jpeg")


def kinds() -> list[type[m.Record]]:
    """Every kind of record, in an order of its own."""
    found = [one for one in apps.get_models() if issubclass(one, m.Record)]
    return sorted(found, key=lambda one: one.__name__)


def _not_looked_at(*_: object, **__: object) -> None:
    """Stand for what copies, for the test client, what each part of a page was made of."""


# What is searched for or reckoned long: opened after each act it would take most of a walk.
_SEARCHED = (
    "/explanations/",
    "/ways/",
    "/advice/",
    "/mates/",
    "/proving/",
    "/diversity/",
    "/book.zip",
    "/erase/",
    "/data.zip",
)
_SEARCHED_EVERY = 5


def walk(client: Client, world: World, steps: int) -> int:
    """Do random things, and open every page after each that was done; return how many were opened.

    A refused act was taken back whole by the transaction around it: no page can have changed, and
    none is opened anew. Unless the world opens `both`, what takes long is opened after every fifth
    alone, refused or not.
    """
    opened = 0
    done: list[str] = []
    with mock.patch("django.test.client.store_rendered_templates", _not_looked_at):
        for step in range(1, steps + 1):
            done.append(world.act())
            fifth = step % _SEARCHED_EVERY == 0
            if ":" in done[-1] and not fifth:
                continue
            searching = world.both or fifth
            for address in world.addresses():
                if not searching and any(one in address for one in _SEARCHED):
                    continue
                answer = client.get(address)
                answer.getvalue()  # to its end, so that a picture's file is closed
                assert answer.status_code in (200, 302, 404, 405), (address, done)
                opened += 1
    return opened
