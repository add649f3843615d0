"""The example collection: Ostrel Yard, a yard that never was, entered into an empty book.

`fixtures/ostrel_yard/collection.json` lists its records as dated events. They are replayed in
order, each as an entry of the daybook on its own day, so that the numbers have the history that
six seasons would have given them.
"""

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, time, timedelta
from itertools import groupby
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from keeper import models as m
from keeper.domain import inference
from keeper.domain.animals.looks import Looked, rows_of_look
from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.domain.clutches.foretelling import keep_foretold
from keeper.domain.example.care import Care
from keeper.domain.example.evidence import Evidence
from keeper.domain.example.pictures import keep_picture
from keeper.domain.example.register import Register
from keeper.domain.example.stock import Stock
from keeper.domain.example.ways import Ways
from keeper.domain.projects.plans import choose_way, way_words
from keeper.domain.saying.counts import how_many
from keeper.domain.sheets import writes as sheets

Event = Mapping[str, Any]


def book_is_empty() -> bool:
    """Return whether nothing was ever entered, so that the example would not mix with a book."""
    return not (m.Species.objects.exists() or m.Contact.objects.exists())


def load(*, by: m.Account) -> None:
    """Fill an empty book with the example collection, all of it or nothing.

    Raises:
        Refused: the book has records.
    """
    if not book_is_empty():
        raise Refused("The example goes into an empty book only. Start one in another folder.")
    with transaction.atomic():
        _Replay(by).replay(_events())


def _events() -> list[dict[str, Any]]:
    path = settings.ROOT / "fixtures" / "ostrel_yard" / "collection.json"
    events: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))
    return events


class _Replay:
    """Enters the events in order and remembers what was entered, by the keeper's own codes."""

    def __init__(self, by: m.Account) -> None:
        self.by = by
        self.register = Register()
        self.animals: dict[str, m.Animal] = {}
        self.clutches: dict[str, m.Clutch] = {}
        self.contacts: dict[str, m.Contact] = {}
        self.projects: dict[str, m.Project] = {}
        self.members: dict[tuple[str, str], m.Member] = {}
        self.evidence = Evidence(by, self.register, self.animals, self.contacts)
        self.ways = Ways(by, self.animals, self.clutches)
        self.care = Care(by, self.animals)
        self.stock = Stock(by, self.animals, self.contacts)

    def replay(self, events: Iterable[Event]) -> None:
        """Enter all events; those of one day follow one another in its evening."""
        for day, listed in groupby(events, key=lambda event: event["on"]):
            evening = datetime.combine(date.fromisoformat(day), time(17, 30))
            for number, event in enumerate(listed):
                at = timezone.make_aware(evening + timedelta(minutes=5 * number))
                self._enter(event, at)

    def _enter(self, event: Event, at: datetime) -> None:
        does = self.evidence.does | self.ways.does | self.care.does | self.stock.does
        if event["do"] in does:
            entry = does[event["do"]](event)
            entry.at = at
            entry.save(update_fields=["at"])
            return
        if event["do"] == "way":
            entry = self._way(event)
            entry.at = at
            entry.save(update_fields=["at"])
            return
        do: dict[str, tuple[str, Callable[[Writing, Event], m.Record]]] = {
            "contact": ("Added the contact {name}", self._contact),
            "acquire": ("Added {code}", self._acquire),
            "lay": ("Clutch {code} of {dam} × {males}", self._lay),
            "hatch": (
                "Hatch of {clutch}: {hatched} hatched, {slugs}, {lost} lost",
                self._hatch,
            ),
            "observe": ("{trait} {told} on {animal}", self._observe),
            "take-back": ("Withdrew what was seen of {trait} on {animal}", self._take_back),
            "correct-clutch": ("Changed clutch {clutch}", self._correct_clutch),
            "status": ("{status}: {animals}", self._status),
            "project": ("Began the project {name}", self._project),
            "hold": ("{held} {animal} for {project}", self._hold),
            "release": ("Released {animal} from {project}", self._release),
            "pair": ("Planned {dam} × {sire} for {season}", self._pair),
            "sheet": ("Issued a sale sheet of {animal} for {buyer}", self._sheet),
        }
        what, enter = do.get(event["do"]) or (self.register.words(event), self.register.enter)
        reason = event.get("reason", "")
        with writing(by=self.by, what=_worded(what, event), reason=reason, at=at) as book:
            about(book.entry, enter(book, event))

    def _contact(self, book: Writing, event: Event) -> m.Record:
        contact = m.Contact(
            name=event["name"], reliability=event["reliability"], notes=event["notes"]
        )
        contact.reach = event.get("reach", "")
        self.contacts[contact.name] = contact
        return book.keep(contact)

    # --- animals ---------------------------------------------------------------------------------

    def _acquire(self, book: Writing, event: Event) -> m.Record:
        source = self.contacts[event["source"]]
        animal = book.keep(
            m.Animal(
                species=self.register.species[event["species"]],
                code=event["code"],
                name=event.get("name", ""),
                sex=event["sex"],
                sex_told=m.SexTold.STATED,
                hatched_year=event["year"],
                acquired_on=date.fromisoformat(event["on"]),
                source=source,
                place=event["place"],
            )
        )
        self.animals[animal.code] = animal
        on = date.fromisoformat(event["on"])
        paper = None
        if "paper" in event:
            paper = book.keep(m.Paper(animal=animal, source=source, dated=on, says=event["paper"]))
        for said in event.get("says", ()):
            trait = self.register.trait(animal.species, said["trait"])
            line = self.register.lines[trait.pk, said["line"]] if "line" in said else None
            statement = m.Statement(animal=animal, trait=trait, line=line, claim=said["claim"])
            statement.chance = said.get("chance")
            statement.source, statement.paper, statement.on = source, paper, on
            book.keep(statement)
        self._look(book, animal, event, on)
        return animal

    def _look(self, book: Writing, animal: m.Animal, look: Event, on: date) -> None:
        """Note what a look at an animal saw, and keep the picture that was taken of it."""
        keep_picture(book, animal, look.get("seen", ()), on)
        seen = [self.register.trait(animal.species, name) for name in look.get("seen", ())]
        looked = Looked(on, seen, whole=look["whole"])
        for row in rows_of_look(animal, looked, self.by):
            book.keep(row)

    def _observe(self, book: Writing, event: Event) -> m.Record:
        animal = self.animals[event["animal"]]
        look = m.Observation(animal=animal, seen=event["seen"], by=self.by, note=event["note"])
        look.trait = self.register.trait(animal.species, event["trait"])
        look.on = date.fromisoformat(event["on"])
        book.keep(look)
        if not animal.photos.exists():
            # It came by the page of a prospect, which takes no picture.
            keep_picture(book, animal, [look.trait.name], look.on)
        return animal

    def _take_back(self, book: Writing, event: Event) -> m.Record:
        animal = self.animals[event["animal"]]
        trait = self.register.trait(animal.species, event["trait"])
        # Ordered by day, the latest first.
        look = m.Observation.objects.live().filter(animal=animal, trait=trait)[0]
        book.withdraw(look, reason=event["reason"])
        return animal

    def _status(self, book: Writing, event: Event) -> m.Record:
        for code in event["animals"]:
            animal = self.animals[code]
            animal.status, animal.status_since = event["status"], date.fromisoformat(event["on"])
            if event["status"] in (m.Status.SOLD, m.Status.DIED):
                animal.place = ""
            animal.notes = event.get("note", animal.notes)
            book.keep(animal)
        return animal

    def _sheet(self, book: Writing, event: Event) -> m.Record:
        """Freeze what the book says on that day; `sheets.issue` would date it today."""
        animal, buyer = self.animals[event["animal"]], self.contacts[event["buyer"]]
        number, code = m.Sheet.objects.count() + 1, event["code"]
        on = date.fromisoformat(event["on"])
        sheet = m.Sheet(number=number, code=code, animal=animal, buyer=buyer, by=self.by)
        sheet.content = sheets.draft(animal, buyer=buyer, by=self.by, on=on)
        sheet.issued_at = book.entry.at
        sheets.sign(sheet, inference.evidence(sheet.animal))
        book.keep(sheet)
        return animal

    # --- clutches --------------------------------------------------------------------------------

    def _lay(self, book: Writing, event: Event) -> m.Record:
        clutch = book.keep(
            m.Clutch(
                species=self.register.species[event["species"]],
                code=event["code"],
                dam=self.animals[event["dam"]],
                laid_on=date.fromisoformat(event["on"]),
                eggs=event["eggs"],
                test_breeding=event.get("test_breeding", False),
                notes=event.get("notes", ""),
            )
        )
        self.clutches[clutch.code] = clutch
        for one in event["sires"]:
            sire = self.animals[one["sire"]]
            book.keep(m.CandidateSire(clutch=clutch, sire=sire, share=one["share"]))
        return clutch

    def _hatch(self, book: Writing, event: Event) -> m.Record:
        clutch = self.clutches[event["clutch"]]
        keep_foretold(book, clutch)
        clutch.hatched_on = date.fromisoformat(event["on"])
        clutch.slugs, clutch.lost = event.get("slugs", 0), event.get("lost", 0)
        book.keep(clutch)
        for told in event["rows"]:
            counted = {key: told[key] for key in ("count", "sex", "whole")}
            row = book.keep(m.HatchRow(clutch=clutch, **counted))
            for name in told["seen"]:
                trait = self.register.trait(clutch.species, name)
                book.keep(m.RowSighting(row=row, trait=trait, seen=True))
            for one in told.get("record", ()):
                self._hatchling(book, row, told, one)
        return clutch

    def _hatchling(self, book: Writing, row: m.HatchRow, told: Event, one: Event) -> None:
        clutch = row.clutch
        animal = m.Animal(species=clutch.species, clutch=clutch, hatch_row=row, code=one["code"])
        animal.sex = one["sex"]
        if animal.sex != m.Sex.UNKNOWN:
            animal.sex_told = m.SexTold.POPPED
        animal.hatched_on, animal.place = clutch.hatched_on, one["place"]
        self.animals[animal.code] = book.keep(animal)
        assert clutch.hatched_on is not None
        self._look(book, animal, told, clutch.hatched_on)

    def _correct_clutch(self, book: Writing, event: Event) -> m.Record:
        clutch = self.clutches[event["clutch"]]
        clutch.notes = event["notes"]
        return book.keep(clutch)

    # --- projects --------------------------------------------------------------------------------

    def _project(self, book: Writing, event: Event) -> m.Record:
        species = self.register.species[event["species"]]
        project = m.Project(species=species, name=event["name"], wanted=event["wanted"])
        project.notes = event.get("notes", "")
        self.projects[project.name] = book.keep(project)
        for part in event["goal"]:
            trait = self.register.trait(species, part["trait"])
            line = self.register.lines[trait.pk, part["line"]] if "line" in part else None
            book.keep(m.GoalPart(project=project, trait=trait, line=line, need=part["need"]))
        return project

    def _hold(self, book: Writing, event: Event) -> m.Record:
        project = self.projects[event["project"]]
        review = event.get("review_on")
        member = m.Member(project=project, animal=self.animals[event["animal"]])
        member.holdback, member.reason = review is not None, event["reason"]
        member.since = date.fromisoformat(event["on"])
        member.review_on = date.fromisoformat(review) if review else None
        self.members[event["project"], event["animal"]] = book.keep(member)
        return project

    def _pair(self, book: Writing, event: Event) -> m.Record:
        dam, sire = self.animals[event["dam"]], self.animals[event["sire"]]
        pairing = m.PlannedPairing(season=event["season"], dam=dam, sire=sire)
        pairing.reason = event["reason"]
        return book.keep(pairing)

    def _way(self, event: Event) -> m.DaybookEntry:
        """The best way at that time becomes the project's plan."""
        project = self.projects[event["project"]]
        animals = [self.animals[code] for code in event["animals"]]
        found = inference.ways(project, animals, generations=2, eggs=event["eggs"], mature=3)
        way = next(one for one in found.ways if one.generations == 2)
        words = {step.number: way_words(step) for step in way.steps}
        day = date.fromisoformat(event["on"])
        return choose_way(
            project=project, way=way, on=day, eggs=event["eggs"], words=words, by=self.by
        )

    def _release(self, book: Writing, event: Event) -> m.Record:
        member = self.members[event["project"], event["animal"]]
        member.released_on = date.fromisoformat(event["on"])
        member.release_reason = event["reason"]
        book.keep(member)
        return member.project


def _worded(what: str, event: Event) -> str:
    """Say what an event was, as the daybook says it of a keeper's own entries."""
    values = {"lost": 0, **event}
    values["slugs"] = how_many(event.get("slugs", 0), "slug")
    values["held"] = "Held back" if "review_on" in event else "Took in"
    values["hatched"] = sum(row["count"] for row in event.get("rows", ()))
    values["males"] = " or ".join(one["sire"] for one in event.get("sires", ()))
    if event["do"] == "observe":
        values["told"] = m.Seen(event["seen"]).label
    if event["do"] == "status":
        values["animals"] = ", ".join(event["animals"])
        values["status"] = m.Status(event["status"]).label.capitalize()
    return what.format_map(values)
