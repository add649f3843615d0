"""What a signed paper would bring into this book: looked at before anything is written."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from keeper.domain import inference
from keeper.domain.book.writing import Refused
from keeper.domain.travel.files import PaperFile
from keeper.models import (
    Animal,
    Brings,
    Contact,
    Line,
    Sheet,
    SignedPaper,
    SigningKey,
    Species,
    Trait,
)

NEW, LEAVE = "new", "leave"


@dataclass(frozen=True)
class LineAsked:
    """A line of a paper, and the line of this book that seems to be it.

    Attributes:
        key: what it is called among what is asked: trait and code.
        alleles: where it stands in the cases: part, locus, allele.
    """

    key: tuple[str, str]
    name: str
    alleles: tuple[inference.Allele, ...]
    match: Line | None

    @property
    def said(self) -> str:
        """Trait, code and name."""
        trait, code = self.key
        return f"{trait} {code}" + (f" {self.name}" if self.name else ", line not named")


@dataclass(frozen=True)
class TraitAsked:
    """A trait of a paper, its lines, and the trait of this book that seems to be it."""

    name: str
    shown: str
    lines: tuple[LineAsked, ...]
    match: Trait | None


@dataclass(frozen=True)
class Kin:
    """An animal of this book that came with papers which tell of the same animals."""

    animal: Animal
    count: int


@dataclass(frozen=True)
class Arrival:
    """A paper, and how it stands to this book.

    Attributes:
        there: the animal of this book that has its identity, if there is one.
        brings: an animal with its papers, or what an animal of this book bred elsewhere.
        newer_than: the paper that it takes the place of.
        signers: contacts whose papers were signed with the same key.
        figures: every figure that is stated beside what comes out here.
        kin: animals here whose papers tell of some of the same animals.
    """

    paper: PaperFile
    species: Species
    there: Animal | None
    brings: Brings
    newer_than: SignedPaper | None
    signers: tuple[Contact, ...]
    traits: tuple[TraitAsked, ...]
    figures: tuple[inference.Reproduced, ...]
    kin: tuple[Kin, ...] = field(default=())

    @property
    def is_new(self) -> bool:
        """Whether its animal is not in the book, or not any more."""
        return self.there is None or self.there.is_withdrawn

    @property
    def all_agree(self) -> bool:
        """Whether every figure comes out here as it is stated."""
        return all(one.agrees for one in self.figures)


def arrival(paper: PaperFile, *, species: Species | None = None) -> Arrival:
    """Return how a paper stands to this book.

    Raises:
        Refused: it is in the book already, or was signed here, or its animal cannot be brought in.
    """
    evidence = paper.evidence
    _refuse_own(paper)
    there = Animal.objects.filter(identity=evidence["identity"]).first()
    if there is not None and there.is_withdrawn and not _came_by_papers(there):
        raise Refused(f"Its animal is {there}, whose record was withdrawn. Restore it first.")
    if there is not None:
        species = there.species
    found = species or species_of(evidence["species"])
    if found is None:
        raise Refused(
            f"This book has no species “{evidence['species']['name']}”. Add it to the register, "
            "or say which of yours it is."
        )
    if found.sex_determination != evidence["species"]["sex_determination"]:
        raise Refused(
            f"The paper takes the sex of {found} to be decided in another way than this book does. "
            "Nothing was brought in. Correct the species in the register, or ask its signer."
        )
    return Arrival(
        paper,
        found,
        there,
        *_brings(paper, there),
        signers=tuple(_signers(paper)),
        traits=tuple(_traits(evidence, found)),
        figures=tuple(_figures(evidence)),
        kin=tuple(_kin(paper, there)),
    )


def species_of(told: dict[str, str]) -> Species | None:
    """The species of this book that a paper means: by its scientific name, or by its name."""
    live = Species.objects.live()
    if told["scientific_name"]:
        same: Species | None = live.filter(scientific_name__iexact=told["scientific_name"]).first()
        if same is not None:
            return same
    found: Species | None = live.filter(name__iexact=told["name"]).first()
    return found


def _came_by_papers(there: Animal) -> bool:
    """Whether an animal is in the book by an arrival alone, which may have been taken back."""
    return SignedPaper.objects.filter(animal=there, brings=Brings.ANIMAL).exists()


def _refuse_own(paper: PaperFile) -> None:
    known = SignedPaper.objects.live().filter(digest=paper.digest).select_related("animal").first()
    if known is not None:
        raise Refused(f"This paper is in the book already: look at {known.animal}.")
    if SigningKey.objects.filter(fingerprint=paper.fingerprint).exists():
        raise Refused(
            "This paper was signed by this book itself. Send it to others: here it is known."
        )


def _brings(paper: PaperFile, there: Animal | None) -> tuple[Brings, SignedPaper | None]:
    if there is None:
        return Brings.ANIMAL, None
    earlier = SignedPaper.objects.live().filter(animal=there)
    came = earlier.filter(brings=Brings.ANIMAL).first()
    if came is None and there.is_withdrawn:
        return Brings.ANIMAL, None
    if came is not None:
        if came.fingerprint != paper.fingerprint:
            raise Refused(
                f"{there} came with papers of another key. Nothing was brought in. Take that "
                "arrival back first, or keep it and note what this paper says by hand."
            )
        return Brings.ANIMAL, came
    before = earlier.filter(brings=Brings.RESULTS, fingerprint=paper.fingerprint).first()
    return Brings.RESULTS, before


def _signers(paper: PaperFile) -> Iterable[Contact]:
    of_key = SignedPaper.objects.live().filter(fingerprint=paper.fingerprint)
    found = Contact.objects.live().filter(pk__in=of_key.values("source"))
    return found.order_by("name")


def _traits(evidence: dict[str, Any], species: Species) -> Iterable[TraitAsked]:
    alleles: dict[tuple[str, str], list[inference.Allele]] = {}
    names: dict[tuple[str, str], str] = {}
    for number, part in enumerate(evidence["parts"]):
        for one in part["lines"]:
            key = (one["trait"], one["allele"])
            alleles.setdefault(key, []).append((number, one["locus"], one["allele"]))
            names[key] = one["name"]
    for told in evidence["traits"]:
        match = Trait.objects.live().filter(species=species, name__iexact=told["name"]).first()
        lines = [
            LineAsked(key, names[key], tuple(places), _line(match, key[1], names[key]))
            for key, places in alleles.items()
            if key[0] == told["name"]
        ]
        yield TraitAsked(told["name"], told["shown"], tuple(lines), match)


def _line(trait: Trait | None, code: str, name: str) -> Line | None:
    """The line of a trait that a paper seems to mean: of that code, and of that name or of none."""
    if trait is None:
        return None
    lines = Line.objects.live().filter(trait=trait)
    if name:
        named = lines.filter(name__iexact=name).first()
        return named or lines.filter(code=code, name="").first()
    return lines.first() if lines.count() == 1 else None


def _figures(evidence: dict[str, Any]) -> list[inference.Reproduced]:
    try:
        return inference.reproduced(evidence)
    except inference.Unusable as fault:
        raise Refused(
            f"Its evidence cannot be used here: {fault}. Nothing was brought in. Ask its signer."
        ) from fault


def _kin(paper: PaperFile, there: Animal | None) -> Iterable[Kin]:
    own = set(paper.evidence["identities"].values())
    others = SignedPaper.objects.live().filter(brings=Brings.ANIMAL).exclude(animal=there)
    for one in others.select_related("animal"):
        shared = own & set(identities_in(one))
        if shared:
            yield Kin(one.animal, len(shared))


def identities_in(paper: SignedPaper) -> list[str]:
    """The identities of all that a paper tells of; none where its signer was erased."""
    from keeper.domain.sheets.signing import Unreadable, read

    try:
        return list(read(paper.signed_bytes)["evidence"]["identities"].values())
    except Unreadable:
        return []


def known_digests(there: Animal | None) -> set[str]:
    """Digests of papers that this book has on an animal, or signed itself."""
    own = Sheet.objects.exclude(digest="").values_list("digest", flat=True)
    found = set(own)
    if there is not None:
        found |= set(
            SignedPaper.objects.live().filter(animal=there).values_list("digest", flat=True)
        )
    return found
