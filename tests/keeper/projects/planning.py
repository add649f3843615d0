"""A project with animals of two genes, for tests of ways, outlooks and holdbacks."""

from collections.abc import Mapping
from datetime import date

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference import Guest
from keeper.domain.projects import writes as projects
from keeper.domain.projects.queries import with_goal
from keeper.domain.projects.writes import Requirement
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book

TODAY = date(2026, 11, 1)


class TwoGenes(Book):
    """Saltgrass HAR and Quillwort TAR, and a project for both at once."""

    def __init__(self, by: m.Account, **species: str) -> None:
        super().__init__(by, **species)
        self.other = TraitFactory.create(species=self.species, name="Quillwort")
        self.second = LineFactory.create(trait=self.other, code="TAR")
        self.project = m.Project(species=self.species, name="Pale tide")
        goal = [Requirement(one.trait, one, m.Need.SHOWS) for one in (self.line, self.second)]
        projects.start_project(project=self.project, parts=goal, by=by)

    def member(self, animal: m.Animal, *, review: date | None = None) -> m.Member:
        """Take an animal into the project."""
        member = m.Member(
            project=self.project, animal=animal, holdback=review is not None, reason="for it",
            since=date(2026, 1, 1), review_on=review,
        )  # fmt: skip
        projects.join(member=member, by=self.by)
        return member

    def visuals(self) -> tuple[m.Animal, m.Animal]:
        """A female of the one look and a male of the other, both in the project."""
        dam = self.founder("F1", "female", "visual")
        sire = self.founder("M1", "male", "visual", line=self.second)
        self.member(dam)
        self.member(sire)
        return dam, sire

    def hatchling(self, code: str, clutch: m.Clutch, sex: str) -> m.Animal:
        """A hatchling of 2026, looked at and found normal."""
        with writing(by=self.by, what=f"Recorded {code}") as book:
            animal = book.keep(
                m.Animal(species=self.species, code=code, clutch=clutch, sex=sex, hatched_year=2026)
            )
            self.look(book, animal, seen=False)
        return animal


def with_its_goal(book: TwoGenes) -> m.Project:
    """The project as pages read it."""
    found: m.Project = with_goal(m.Project.objects.filter(pk=book.project.pk)).get()
    return found


def outlook_from(
    project: m.Project,
    ages: Mapping[m.Animal, int],
    course: inference.BreedingCourse,
    *,
    bought: Guest | None = None,
    tested: tuple[m.Animal, m.GoalPart] | None = None,
) -> inference.Outlook:
    """The outlook of a project from some animals, by their ages in seasons."""
    return inference.basis(project, ages, bought).outlook(ages, course, tested=tested)
