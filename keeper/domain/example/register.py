"""The register's part of the example collection: species, traits, loci, lines and their rules."""

from collections.abc import Iterable, Mapping
from typing import Any

from keeper import models as m
from keeper.domain.book.writing import Writing

Event = Mapping[str, Any]


class Register:
    """What was entered so far, by name."""

    def __init__(self) -> None:
        self.species: dict[str, m.Species] = {}
        self.loci: dict[tuple[int, str], m.Locus] = {}
        self.traits: dict[tuple[int, str], m.Trait] = {}
        self.lines: dict[tuple[int, str], m.Line] = {}
        self.looks: dict[tuple[int, str], m.NamedLook] = {}

    def trait(self, species: m.Species, name: str) -> m.Trait:
        """The trait of a species by its name."""
        return self.traits[species.pk, name]

    def words(self, event: Event) -> str:
        """What the daybook says of an event."""
        return {
            "species": "Added the species {name}",
            "trait": "Added the trait {name}",
            "open-pair": "Left open whether {one} and {other} are one gene",
            "survival": "Added how many with two copies of {one} hatch",
            "interval": "Linked {left} and {right}",
            "look": "Added the look {name}",
        }[event["do"]]

    def enter(self, book: Writing, event: Event) -> m.Record:
        """Keep what an event of the register tells."""
        if event["do"] == "species":
            return self._species(book, event)
        species = self.species[event["species"]]
        if event["do"] == "trait":
            return self._trait(book, species, event)
        if event["do"] == "look":
            return self._look(book, species, event)
        if event["do"] == "interval":
            left, right = (self.loci[species.pk, event[side]] for side in ("left", "right"))
            rates = {"female": event["female"], "male": event["male"]}
            return book.keep(m.Interval(left=left, right=right, **rates))
        one, other = (self.line(species, event[which]) for which in ("one", "other"))
        if event["do"] == "open-pair":
            pair = m.OpenPair(one=one, other=other, prior=event["prior"], notes=event["notes"])
            return book.keep(pair)
        locus = self.loci[species.pk, event["locus"]]
        fate = {"survival": event["survival"], "source": event["source"]}
        return book.keep(m.Survival(locus=locus, one=one, other=other, **fate))

    def _look(self, book: Writing, species: m.Species, event: Event) -> m.Record:
        look = m.NamedLook(species=species, name=event["name"], notes=event["notes"])
        self.looks[species.pk, look.name] = book.keep(look)
        for part in event["parts"]:
            trait = self.trait(species, part["trait"])
            lines = [self.lines[trait.pk, code] for code in part.get("lines", ())]
            book.keep(m.LookPart(look=look, trait=trait), lines=lines)
        return look

    def line(self, species: m.Species, name: str) -> m.Line:
        """A line by its trait's name and its code."""
        trait, code = name.rsplit(" ", 1)
        return self.lines[self.trait(species, trait).pk, code]

    def _species(self, book: Writing, event: Event) -> m.Record:
        values = {key: value for key, value in event.items() if key not in ("do", "on")}
        self.species[event["name"]] = book.keep(m.Species(**values))
        return self.species[event["name"]]

    def _trait(self, book: Writing, species: m.Species, event: Event) -> m.Record:
        plain = ("name", "shown", "hides_all", "penetrance", "harm", "harm_source", "notes")
        trait = m.Trait(species=species, **{key: event[key] for key in plain if key in event})
        if "base" in event:
            trait.base = self.trait(species, event["base"])
        hidden = [self.trait(species, name) for name in event.get("hides", ())]
        self.traits[species.pk, trait.name] = (
            book.keep(trait, hides=hidden) if hidden else book.keep(trait)
        )
        for told in event.get("loci", ()):
            self.loci[species.pk, told["name"]] = book.keep(m.Locus(species=species, **told))
        for told in event.get("lines", ()):
            line = m.Line(trait=trait, locus=self.loci[species.pk, told["locus"]])
            line.code, line.name, line.origin = told["code"], told["name"], told["origin"]
            self.lines[trait.pk, line.code] = book.keep(line)
        for parts in event.get("showings", ()):
            self._showing(book, species, trait, parts)
        return trait

    def _showing(
        self, book: Writing, species: m.Species, trait: m.Trait, parts: Iterable[Event]
    ) -> None:
        showing = book.keep(m.Showing(trait=trait))
        for part in parts:
            lines = [self.line(species, name) for name in part["lines"]]
            book.keep(m.Condition(showing=showing, dose=part["dose"]), lines=lines)
