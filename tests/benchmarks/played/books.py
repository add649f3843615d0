"""A case in a book: written, bred on and looked at by the writes that the forms call."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

from keeper import models as m
from keeper.domain.animals.looks import Looked
from keeper.domain.animals.together import Together, change_together
from keeper.domain.animals.writes import Arrival, add_animal
from keeper.domain.book.writing import writing
from keeper.domain.clutches.hatching import Counted, Hatch, log_hatch
from keeper.domain.clutches.writes import Candidate, lay_clutch
from keeper.domain.inference import BreedingCourse, Outlook
from keeper.domain.projects import outlook as outlooks
from keeper.domain.projects import queries, writes
from keeper.domain.projects.writes import Requirement
from tests.benchmarks.played.drawn import DOUBLE, DOUBTED, Case, Genes, Luck, Word, child, shown
from tests.factories import LineFactory, SpeciesFactory, TraitFactory

FIRST = 2008
"""The season in which it begins: long ago, so that no day of it is one to come."""
SEASONS = 12
LAYS = 0.85
RECORDED = 3
"""Hatchlings of one sex and look in a clutch that get a record; the others are counted."""

# Which of some hatchlings that look alike is which, as nobody can see.
Order = Callable[[Sequence[Genes]], Sequence[Genes]]


def as_drawn(alike: Sequence[Genes]) -> Sequence[Genes]:
    """Hatchlings in the order in which they came."""
    return alike


@dataclass
class Book:
    """A case as its keeper writes it down. `genes` is what nobody can ask but what hatches.

    `runs` is how many runs outlooks are asked with.
    """

    case: Case
    by: m.Account
    runs: int = 2000
    order: Order = as_drawn

    def __post_init__(self) -> None:
        self.luck = Luck(self.case.seed)
        self.genes: dict[int, Genes] = {}
        self.reached = 0
        self.laid = 0
        self._register()
        self._project()
        self._arrive()
        self.begun_with = [one.animal_id for one in self.members()]
        self.outlook = self.outlook_on(date(self.first_year, 3, 1))

    # --- what is there ------------------------------------------------------------------------

    def members(self) -> list[m.Member]:
        """Who is in the project, as its pages have it, in the order in which they came."""
        return sorted(queries.members_here(self.project), key=lambda one: one.pk)

    @property
    def first_year(self) -> int:
        """The first season that is looked ahead to."""
        return FIRST + 1

    @cached_property
    def course(self) -> BreedingCourse:
        """How the project is bred on: the page's own, with what its form may change."""
        case = self.case
        usual = outlooks.course_of(self.project, self.members())
        return replace(
            usual, seasons=SEASONS, pairs=case.pairs, matings=case.matings, lives=case.lives,
            runs=self.runs,
        )  # fmt: skip

    def outlook_on(self, day: date) -> Outlook:
        """What the project's page shows on a day."""
        return outlooks.outlook_of(self.project, self.members(), self.course, day, "")

    # --- the beginning ------------------------------------------------------------------------

    def _register(self) -> None:
        self.species = SpeciesFactory.create(
            eggs_usual=self.case.eggs, hatch_rate="4/5", female_mature_months=36,
            male_mature_months=18,
        )  # fmt: skip
        self.species.refresh_from_db()
        self.traits: dict[str, m.Trait] = {}
        self.lines: dict[str, m.Line] = {}
        for look, codes in self.case.lines.items():
            how = m.Shown.SINGLE if look == "Blaze" else m.Shown.RECESSIVE
            self.traits[look] = TraitFactory.create(species=self.species, name=look, shown=how)
            for code in codes:
                at = {"locus": self.lines[codes[0]].locus} if code != codes[0] else {}
                self.lines[code] = LineFactory.create(trait=self.traits[look], code=code, **at)
        if "Blaze" in self.traits:
            self.traits[DOUBLE] = TraitFactory.create(
                species=self.species, name=DOUBLE, shown=m.Shown.EVERY, base=self.traits["Blaze"]
            )

    def _project(self) -> None:
        case = self.case
        project = m.Project(
            species=self.species, name="Pale tide", wanted=case.wanted, places=case.places
        )
        goal = [Requirement(self.traits[look], None, m.Need.SHOWS) for look in case.looks]
        writes.start_project(project=project, parts=goal, by=self.by)
        self.project = queries.with_goal(m.Project.objects.filter(pk=project.pk)).get()

    def _arrive(self) -> None:
        with writing(by=self.by, what="Added a source") as book:
            doubted = book.keep(m.Contact(name="taken at a part", reliability=str(DOUBTED)))
        for one in self.case.founders:
            hatched = date(self.first_year - one.age, 8, 1)
            came = max(date(FIRST, 2, 1), hatched + timedelta(days=15))
            animal = m.Animal(
                species=self.species, code=one.code, sex=one.sex,
                hatched_on=hatched, acquired_on=came,
            )  # fmt: skip
            words = [self._statement(animal, *said, doubted) for said in one.said.items()]
            looked = self._looked(came, one.genes)
            add_animal(arrival=Arrival(animal, statements=words, looked=looked), by=self.by)
            self.genes[animal.pk] = one.genes
            self._join(animal)
        if self.case.young:
            dam, sire = (one.animal for one in self.members()[:2])
            clutch = self._lay(FIRST, dam, sire)
            self._hatch(FIRST, clutch, self.case.young)
            for animal in young_of(clutch)[:2]:
                self._join(animal)

    def _statement(
        self, animal: m.Animal, look: str, word: Word, doubted: m.Contact
    ) -> m.Statement:
        said = m.Statement(animal=animal, trait=self.traits[look], claim=word.claim)
        said.line = self.lines[word.line] if word.line is not None else None
        said.chance = word.chance
        said.source = doubted if word.doubted else None
        return said

    def _looked(self, on: date, genes: Genes) -> Looked:
        return Looked(on, [self.traits[look] for look in sorted(shown(genes))], whole=True)

    def _join(self, animal: m.Animal) -> None:
        member = m.Member(
            project=self.project, animal=animal, holdback=False, reason="to begin with",
            since=date(FIRST, 9, 1),
        )  # fmt: skip
        writes.join(member=member, by=self.by)

    # --- a season -----------------------------------------------------------------------------

    def bury(self, year: int) -> None:
        """Who did not live to this season is noted as dead."""
        luck = self.luck.of(f"deaths {year}")
        dead = [one.animal for one in self.members() if luck.random() >= float(self.course.lives)]
        if dead:
            died = Together(status=m.Status.DIED, since=date(year, 1, 15))
            change_together(animals=dead, to=died, by=self.by)

    def breed(self, year: int, rank: int, dam: m.Animal, sire: m.Animal) -> m.Clutch | None:
        """What came of a pair: a clutch that was looked at, or nothing."""
        luck = self.luck.of(f"clutch {year} {rank}")
        if luck.random() >= LAYS:
            return None
        clutch = self._lay(year, dam, sire)
        hatched = sum(luck.random() < float(self.species.hatch_rate) for _ in range(self.case.eggs))
        parents = self.genes[dam.pk], self.genes[sire.pk]
        young = [(luck.choice(("female", "male")), child(*parents, luck)) for _ in range(hatched)]
        self._hatch(year, clutch, young)
        wanted = set(self.case.looks)
        self.reached += sum(wanted <= shown(genes) for _, genes in young)
        return clutch

    def _lay(self, year: int, dam: m.Animal, sire: m.Animal) -> m.Clutch:
        self.laid += 1
        clutch = m.Clutch(
            species=self.species, code=f"{year % 100:02}-{self.laid:03}", dam=dam,
            laid_on=date(year, 6, 1),
        )  # fmt: skip
        lay_clutch(clutch=clutch, candidates=[Candidate(sire)], by=self.by)
        return clutch

    def _hatch(self, year: int, clutch: m.Clutch, young: Sequence[tuple[str, Genes]]) -> None:
        alike: dict[tuple[str, frozenset[str]], list[Genes]] = {}
        for sex, genes in young:
            alike.setdefault((sex, shown(genes)), []).append(genes)
        rows = [
            Counted(
                seen=frozenset(self.traits[look].pk for look in looks), unseen=frozenset(),
                sex=m.Sex(sex), count=len(those), record=min(len(those), RECORDED), whole=True,
            )
            for (sex, looks), those in alike.items()
        ]  # fmt: skip
        lost = max(0, self.case.eggs - len(young))
        hatch = Hatch(on=date(year, 8, 1), eggs=None, slugs=0, lost=lost, rows=rows)
        log_hatch(clutch=clutch, hatch=hatch, by=self.by)
        recorded = young_of(clutch)
        for row, those in zip(
            m.HatchRow.objects.filter(clutch=clutch).order_by("pk"), alike.values(), strict=True
        ):
            own = [one for one in recorded if one.hatch_row_id == row.pk]
            self.genes |= {
                one.pk: genes for one, genes in zip(own, self.order(those), strict=False)
            }

    # --- who stays ----------------------------------------------------------------------------

    def hold_back(self, year: int, young: Sequence[m.Animal]) -> None:
        """Hold hatchlings back for the project, together."""
        held = [
            m.Member(
                project=self.project, animal=one, holdback=True, reason="for the goal",
                since=date(year, 8, 20), review_on=date(year + 1, 8, 20),
            )
            for one in young
        ]  # fmt: skip
        if held:
            writes.join_all(members=held, by=self.by)

    def release(self, year: int, members: Sequence[m.Member]) -> None:
        """Let members go from the project."""
        for one in members:
            writes.release(member=one, on=date(year, 8, 21), reason="no place", by=self.by)

    def sell(self, year: int, animals: Sequence[m.Animal]) -> None:
        """Note of animals that they are sold, together."""
        if animals:
            sold = Together(status=m.Status.SOLD, since=date(year, 9, 1))
            change_together(animals=list(animals), to=sold, by=self.by)


def young_of(clutch: m.Clutch) -> list[m.Animal]:
    """The hatchlings of a clutch that have a record and are here, in the order of their codes."""
    here = m.Animal.objects.live().filter(clutch=clutch, status=m.Status.KEPT)
    return list(here.select_related("species").order_by("pk"))
