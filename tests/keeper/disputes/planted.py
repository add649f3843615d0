"""Random small books with one planted mistake, and which explanation tells it.

The genes are drawn by Mendel's rules in a world of their own; the book says what a keeper would
have written, and is wrong in one thing. Books in which nothing contradicts it are drawn again:
a mistake that makes nothing impossible is no dispute.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from django.db import transaction

from keeper import models as m
from keeper.domain.book.writing import Writing, writing
from keeper.domain.explaining import DisputeCluster, Weighed, clusters, explained
from keeper.domain.inference import Unanswerable

# What is planted, how often of a hundred: the commoner mistakes of a keeper more often.
MIX = {
    "misread": 28, "mixed-up": 12, "stored": 12, "stranger": 10, "undeclared": 18, "word": 6,
    "dam": 4, "one-gene": 4, "two-genes": 2, "crossover": 2, "mutation": 2,
}  # fmt: skip

# Look, lines, and how it is shown. At a locus on both sex chromosomes the genes travel as phases.
_LOOKS = {
    "Saltgrass": ("HAR",),
    "Quillwort": ("PEL", "DUN"),
    "Gale": ("VEY",),
    "Fogbell": ("TOR",),
}
_SHOWN = {"Saltgrass": 2, "Quillwort": 2, "Gale": 1, "Fogbell": 1}
_CROSSOVER = 0.05
# So many books are drawn at most until one has a dispute.
_ATTEMPTS = 100

# Two copies at each line's locus; at Fogbell's the first is on the X, a male's second on the Y.
Genes = dict[str, tuple[str, str]]


@dataclass
class Beast:
    """An animal as it truly is."""

    code: str
    sex: str
    genes: Genes
    row: m.Animal | None = None
    claims: dict[str, str] = field(default_factory=dict)


@dataclass
class Brood:
    """A clutch as it truly was, and as it is written down."""

    code: str
    dam: Beast
    sire: Beast
    laid: date
    young: list[Beast] = field(default_factory=list)
    told_dam: Beast | None = None
    told_sire: Beast | None = None
    row: m.Clutch | None = None


class World:
    """One drawn world with one mistake of a kind in its book.

    Attributes:
        keys: the explanations that tell the mistake; any of them is right.
    """

    def __init__(self, by: m.Account, kind: str, seed: int) -> None:
        self.by, self.kind, self.draw = by, kind, Random(f"{kind}-{seed}")
        self.where = {"PEL": "q1", "DUN": "q1" if kind == "one-gene" else "q2"}
        self.beasts: list[Beast] = []
        self.broods: list[Brood] = []
        self.keys: set[str] = set()
        self.misread: tuple[Beast, str] | None = None
        self._live()

    # --- what truly happened ---------------------------------------------------------------

    def _locus(self, line: str) -> str:
        return self.where.get(line, line)

    def _founder(self, code: str, sex: str) -> Beast:
        genes: Genes = {}
        claims: dict[str, str] = {}
        for lines in _LOOKS.values():
            for line in lines:
                at = self._locus(line)
                genes.setdefault(at, ("+", "+"))
                if self.draw.random() < 0.25 and not claims.keys() & set(lines):
                    two = self.draw.random() < 0.4 and line != "TOR"
                    pair = (line, line) if two else (line, "+")
                    genes[at] = pair if two or self.draw.random() < 0.5 else pair[::-1]
                    claims[line] = "double" if two else "carries"
        one = Beast(code, sex, genes, claims=claims)
        self.beasts.append(one)
        return one

    def _gamete(self, parent: Beast, at: str, sex: str) -> str:
        first, second = parent.genes[at]
        if at != "TOR":
            return self.draw.choice((first, second))
        if parent.sex == "female":
            return self.draw.choice((first, second))
        crossed = self.kind == "crossover" and self.draw.random() < _CROSSOVER
        from_x = (sex == "female") != crossed
        return first if from_x else second

    def _breed(self, code: str, dam: Beast, sire: Beast, laid: date) -> Brood:
        brood = Brood(code, dam, sire, laid, told_dam=dam, told_sire=sire)
        for number in range(self.draw.randint(4, 8)):
            sex = self.draw.choice(("female", "male"))
            genes = {
                at: (self._gamete(dam, at, sex), self._gamete(sire, at, sex)) for at in dam.genes
            }
            brood.young.append(Beast(f"{code}-{number + 1}", sex, genes))
        self.broods.append(brood)
        return brood

    def _live(self) -> None:
        females = [self._founder(f"F{n}", "female") for n in range(1, 5)]
        males = [self._founder(f"M{n}", "male") for n in range(1, 5)]
        year = 2020
        for season in range(3):
            for number, dam in enumerate(self.draw.sample(females, 3)):
                laid = date(year + season, 5, 1) + timedelta(days=6 * number)
                self._breed(f"C{season}{number}", dam, self.draw.choice(males), laid)
            grown = [one for brood in self.broods[-3:] for one in brood.young[:2]]
            self.beasts += grown
            females += [one for one in grown if one.sex == "female"]
            males += [one for one in grown if one.sex == "male"]

    def shows(self, beast: Beast, look: str) -> bool:
        """Whether an animal truly shows a look."""
        copies = [
            sum(copy in _LOOKS[look] for copy in beast.genes[at])
            for at in {self._locus(line) for line in _LOOKS[look]}
        ]
        return max(copies) >= _SHOWN[look]

    # --- what is written -------------------------------------------------------------------

    def write(self) -> bool:
        """Write the book with its mistake; False if there is nothing to be mistaken about."""
        plant: Callable[[Writing], bool] = getattr(self, f"_plant_{self.kind.replace('-', '_')}")
        with writing(by=self.by, what="A random book") as book:
            self._register(book)
            for beast in self.beasts:
                if "-" not in beast.code:
                    beast.row = book.keep(
                        m.Animal(species=self.species, code=beast.code, sex=beast.sex)
                    )
            if not plant(book):
                return False
            for beast in self.beasts:
                for line, claim in beast.claims.items():
                    self._say(book, beast, line, claim)
            for brood in self.broods:
                self._hatch(book, brood)
            self._point(book)
            book.touched.species.add(self.species.pk)
        return True

    def _register(self, book: Writing) -> None:
        self.species = book.keep(m.Species(name="Drawn python", sex_determination="XY"))
        self.traits, self.lines = {}, {}
        for look, lines in _LOOKS.items():
            shown = m.Shown.RECESSIVE if _SHOWN[look] == 2 else m.Shown.DOMINANT
            trait = book.keep(m.Trait(species=self.species, name=look, shown=shown))
            self.traits[look] = trait
            for line in lines:
                told = {"two-genes": "q1"}.get(self.kind, line) if look == "Quillwort" else line
                name = f"{look} {told}"
                locus = m.Locus.objects.filter(species=self.species, name=name).first()
                if locus is None:
                    both = m.Chromosome.BOTH if line == "TOR" else m.Chromosome.AUTOSOME
                    locus = book.keep(m.Locus(species=self.species, name=name, chromosome=both))
                self.lines[line] = book.keep(m.Line(trait=trait, locus=locus, code=line, name=line))

    def _say(self, book: Writing, beast: Beast, line: str, claim: str) -> None:
        trait = self.lines[line].trait
        if not m.Statement.objects.live().filter(animal=beast.row, trait=trait).exists():
            book.keep(
                m.Statement(animal=beast.row, trait=trait, line=self.lines[line], claim=claim)
            )

    def _hatch(self, book: Writing, brood: Brood) -> None:
        assert brood.told_dam is not None and brood.told_sire is not None
        brood.row = book.keep(
            m.Clutch(
                species=self.species, code=brood.code, laid_on=brood.laid, dam=brood.told_dam.row
            )
        )
        book.keep(m.CandidateSire(clutch=brood.row, sire=brood.told_sire.row))
        kept = [one for one in brood.young if one in self.beasts]
        rows: dict[tuple[bool, ...], int] = {}
        for one in brood.young:
            if one in kept:
                self._record(book, brood, one)
            else:
                seen = tuple(self.shows(one, look) for look in _LOOKS)
                rows[seen] = rows.get(seen, 0) + 1
        for seen, count in rows.items():
            row = book.keep(m.HatchRow(clutch=brood.row, count=count))
            # At once and unchecked: a book has hundreds of looks, and all are in order.
            m.RowSighting.objects.bulk_create(
                m.RowSighting(row=row, trait=self.traits[look], seen=is_seen)
                for look, is_seen in zip(_LOOKS, seen, strict=True)
            )

    def _record(self, book: Writing, brood: Brood, one: Beast) -> None:
        one.row = book.keep(
            m.Animal(species=self.species, code=one.code, sex=one.sex, clutch=brood.row)
        )
        kept = m.Observation.objects.bulk_create(
            m.Observation(
                animal=one.row, trait=trait, on=brood.laid + timedelta(days=60), by=self.by,
                seen=m.Seen.YES if self._told(one, look) else m.Seen.NO,
            )
            for look, trait in self.traits.items()
        )  # fmt: skip
        for row, look in zip(kept, _LOOKS, strict=True):
            if self.misread == (one, look):
                self.keys.add(f"look-{row.pk}")

    def _told(self, one: Beast, look: str) -> bool:
        """What the book says was seen."""
        return self.shows(one, look) != (self.misread == (one, look))

    # --- the mistakes ------------------------------------------------------------------------

    def _plant_misread(self, book: Writing) -> bool:
        kept = [one for one in self.beasts if "-" in one.code]
        self.misread = (self.draw.choice(kept), self.draw.choice(list(_LOOKS)))
        return True

    def _plant_mixed_up(self, book: Writing) -> bool:
        one, other = self.draw.sample(self.broods[:3], 2)
        mine = [beast for beast in one.young if beast in self.beasts]
        pairs = [(a, b) for a in mine for b in other.young if b in self.beasts and a.sex == b.sex]
        if not pairs:
            return False
        a, b = self.draw.choice(pairs)
        one.young[one.young.index(a)], other.young[other.young.index(b)] = b, a
        self.mixed = (a, b)
        return True

    def _plant_stored(self, book: Writing) -> bool:
        late = [
            (brood, before)
            for brood in self.broods
            for before in self.broods
            if before.dam is brood.dam and before.laid < brood.laid and before.sire != brood.sire
        ]
        if not late:
            return False
        brood, before = self.draw.choice(late)
        brood.told_sire, brood.sire = brood.sire, before.sire
        self._again(brood)
        self.blamed, self.blamed_animal = brood, before.sire
        return True

    def _plant_stranger(self, book: Writing) -> bool:
        brood = self.draw.choice(self.broods)
        other = self._founder("X1", "male")
        self.beasts.remove(other)
        brood.sire = other
        self._again(brood)
        self.blamed = brood
        return True

    def _plant_dam(self, book: Writing) -> bool:
        one, other = self.draw.sample(self.broods[:3], 2)
        one.told_dam, other.told_dam = other.dam, one.dam
        self.blamed, self.blamed_animal = one, one.dam
        self.exchanged = other
        return True

    def _again(self, brood: Brood) -> None:
        """What hatches of the true parents, and all that was bred from it since."""
        for one in brood.young:
            one.genes = {
                at: (
                    self._gamete(brood.dam, at, one.sex),
                    self._gamete(brood.sire, at, one.sex),
                )
                for at in brood.dam.genes
            }
        for later in self.broods:
            if later.laid > brood.laid and (later.dam in brood.young or later.sire in brood.young):
                self._again(later)

    def _plant_undeclared(self, book: Writing) -> bool:
        named = [one for one in self.beasts if set(one.claims) & {"HAR", "PEL", "DUN"}]
        named = [one for one in named if "double" not in one.claims.values()]
        if not named:
            return False
        one = self.draw.choice(named)
        del one.claims[self.draw.choice(sorted(set(one.claims) & {"HAR", "PEL", "DUN"}))]
        self.blamed_animal = one
        return True

    def _plant_word(self, book: Writing) -> bool:
        named = [one for one in self.beasts if one.claims.get("HAR") == "carries"]
        if not named:
            return False
        one = self.draw.choice(named)
        one.claims["HAR"] = "clear"
        self.blamed_animal = one
        return True

    def _plant_one_gene(self, book: Writing) -> bool:
        return True

    def _plant_two_genes(self, book: Writing) -> bool:
        return True

    def _plant_crossover(self, book: Writing) -> bool:
        return True

    def _plant_mutation(self, book: Writing) -> bool:
        normal = [one for one in self.beasts if "-" in one.code and not self.shows(one, "Gale")]
        if not normal:
            return False
        one = self.draw.choice(normal)
        one.genes["VEY"] = ("VEY", "+")
        for brood in self.broods:
            if one in (brood.dam, brood.sire):
                self._again(brood)
        self.blamed_animal = one
        return True

    def _point(self, book: Writing) -> None:
        """Write down which explanations are right, now that all has a row."""
        line = {code: row.pk for code, row in self.lines.items()}
        who = getattr(self, "blamed_animal", None)
        pk = who.row.pk if who is not None and who.row is not None else 0
        clutch = self.blamed.row.pk if hasattr(self, "blamed") and self.blamed.row else 0
        if self.kind == "mixed-up":
            a, b = (one.row.pk for one in self.mixed if one.row)
            self.keys |= {f"mixed-up-{a}", f"mixed-up-{b}"}
            self.keys |= {"+".join(sorted((f"mixed-up-{a}", f"mixed-up-{b}")))}
        elif self.kind == "stored":
            self.keys |= {f"stored-{clutch}-{pk}"}
        elif self.kind == "stranger":
            self.keys |= {f"sire-{clutch}-0"}
        elif self.kind == "dam":
            other = self.exchanged.row.pk if self.exchanged.row else 0
            others = self.exchanged.dam.row.pk if self.exchanged.dam.row else 0
            self.keys |= {f"dam-{clutch}-{pk}", f"dam-{clutch}-0"}
            self.keys |= {f"dam-{other}-{others}", f"dam-{other}-0"}
        elif self.kind == "undeclared":
            self.keys |= {f"undeclared-{pk}"}
        elif self.kind == "word":
            said = m.Statement.objects.get(animal=pk, trait=self.traits["Saltgrass"])
            self.keys |= {f"word-{said.pk}"}
        elif self.kind == "one-gene":
            self.keys |= {f"one-gene-{line['PEL']}-{line['DUN']}"}
        elif self.kind == "two-genes":
            self.keys |= {f"two-genes-{line['PEL']}", f"two-genes-{line['DUN']}"}
        elif self.kind == "crossover":
            self.keys |= {f"crossover-{self.lines['TOR'].locus_id}"}
        elif self.kind == "mutation":
            self.keys |= {f"mutation-{pk}-{line['VEY']}"}


def explained_at(by: m.Account, kind: str, seed: int) -> tuple[int | None, list[str]]:
    """Draw a book with a dispute and a mistake of a kind; where its explanation is ranked.

    None: it is not listed. With what is listed, for those who look. The caller takes the book
    back.
    """
    for attempt in range(_ATTEMPTS):
        point = transaction.savepoint()
        world = World(by, kind, seed + attempt)
        if world.write() and m.Dispute.objects.filter(closed=None).exists():
            listed = [one for cluster in clusters() for one in _told(cluster)]
            told = [f"{one.share:.3f} {one.key} {one.text}" for one in listed]
            places = [
                place
                for cluster in clusters()
                for place, one in enumerate(_told(cluster))
                if one.key in world.keys
            ]
            return min(places, default=None), [*sorted(world.keys), *told]
        transaction.savepoint_rollback(point)
    raise LookupError(f"no book with a dispute by {kind} in {_ATTEMPTS} drawn")


def _told(cluster: DisputeCluster) -> tuple[Weighed, ...]:
    try:
        return explained(cluster)
    except Unanswerable:
        return ()
