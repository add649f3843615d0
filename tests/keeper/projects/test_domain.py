"""Projects: goals, holding back, looking again, letting go; each with its entry and undo."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.projects import writes as domain
from keeper.domain.projects.writes import Requirement
from keeper.models import Account, DaybookEntry, GoalPart, Line, Member, Need, Project
from tests.factories import AnimalFactory, LineFactory, SpeciesFactory, TraitFactory

MAY, JUNE, JULY = date(2026, 5, 1), date(2026, 6, 1), date(2026, 7, 1)


@pytest.fixture
def line(db: None) -> Line:
    return LineFactory.create(trait__name="Saltgrass", code="HAR")


def begin(line: Line, by: Account, name: str = "Pale tide") -> Project:
    project = Project(species=line.trait.species, name=name)
    domain.start_project(project=project, parts=[Requirement(line.trait, line, Need.SHOWS)], by=by)
    return project


def hold(project: Project, by: Account, **given: object) -> Member:
    values = {"animal": AnimalFactory.create(species=project.species), "reason": "palest"}
    values |= {"since": MAY, "review_on": JUNE, **given}
    member = Member(project=project, **values)
    domain.join(member=member, by=by)
    return member


def parts_of(project: Project) -> list[tuple[str, str]]:
    return [
        (str(part.line or part.trait), part.need)
        for part in GoalPart.objects.live().filter(project=project)
    ]


def test_start_project_keeps_goal_and_entry(line: Line, owner: Account) -> None:
    project = begin(line, owner)
    entry = DaybookEntry.objects.get()
    assert (entry.what, entry.by, entry.subject_id) == (
        "Began the project Pale tide",
        owner,
        project.pk,
    )
    assert parts_of(project) == [("Saltgrass HAR", "shows")]


def test_start_project_without_goal_is_refused_whole(line: Line, owner: Account) -> None:
    project = Project(species=line.trait.species, name="Pale tide")
    with pytest.raises(ValidationError) as error:
        domain.start_project(project=project, parts=[], by=owner)
    assert error.value.messages == ["Say what the animal must show or carry: at least one part."]
    assert (Project.objects.count(), DaybookEntry.objects.count()) == (0, 0)


def test_start_project_refuses_one_gene_twice(line: Line, owner: Account) -> None:
    parts = [Requirement(line.trait, line, Need.SHOWS), Requirement(line.trait, line, Need.TWO)]
    with pytest.raises(ValidationError) as error:
        domain.start_project(
            project=Project(species=line.trait.species, name="Pale tide"), parts=parts, by=owner
        )
    assert error.value.messages == ["One gene stands in the goal twice. Take one of the two out."]


def test_start_project_refuses_a_trait_of_another_species(line: Line, owner: Account) -> None:
    other = TraitFactory.create(name="Quillwort")
    with pytest.raises(ValidationError) as error:
        domain.start_project(
            project=Project(species=line.trait.species, name="Pale tide"),
            parts=[Requirement(other, None, Need.SHOWS)],
            by=owner,
        )
    assert error.value.messages == ["Quillwort is no trait of this species. Choose one that is."]
    assert Project.objects.count() == 0


def test_change_project_withdraws_parts_and_keeps_the_rest(line: Line, owner: Account) -> None:
    project = begin(line, owner)
    kept = GoalPart.objects.get()
    other = TraitFactory.create(species=project.species, name="Quillwort")
    parts = [Requirement(line.trait, line, Need.SHOWS), Requirement(other, None, Need.CARRIES)]
    domain.change_project(project=project, parts=parts, by=owner)
    assert parts_of(project) == [("Saltgrass HAR", "shows"), ("Quillwort", "carries")]
    domain.change_project(project=project, parts=parts[1:], by=owner, reason="too far")
    assert parts_of(project) == [("Quillwort", "carries")]
    kept.refresh_from_db()
    assert kept.withdrawn_reason == "too far"


def test_hold_back_needs_a_review_date_and_a_reason(line: Line, owner: Account) -> None:
    project = begin(line, owner)
    with pytest.raises(ValidationError) as error:
        hold(project, owner, review_on=None, reason="")
    assert error.value.message_dict == {
        "reason": ["This field cannot be blank."],
        "review_on": ["Say when to look at this holdback again."],
    }
    assert Member.objects.count() == 0


def test_a_breeder_joins_without_review_date(line: Line, owner: Account) -> None:
    member = hold(begin(line, owner), owner, holdback=False, review_on=JUNE)
    assert (member.review_on, str(DaybookEntry.objects.first())) == (
        None,
        f"Took in {member.animal.code} for Pale tide",
    )


@pytest.mark.parametrize(("status", "word"), [("sold", "sold"), ("died", "died")])
def test_who_is_not_here_is_not_held_back(
    line: Line, owner: Account, status: str, word: str
) -> None:
    project = begin(line, owner)
    gone = AnimalFactory.create(species=project.species, code="K-1", status=status)
    with pytest.raises(Refused) as error:
        hold(project, owner, animal=gone)
    assert str(error.value) == f"K-1 is not here: {word}. Choose one that is."


def test_hold_back_refuses_another_species_and_a_second_time(line: Line, owner: Account) -> None:
    project = begin(line, owner)
    stranger = AnimalFactory.create(code="K-9", species=SpeciesFactory.create(name="corn snake"))
    with pytest.raises(ValidationError) as error:
        hold(project, owner, animal=stranger)
    assert error.value.message_dict == {
        "animal": ["K-9 is a corn snake. Choose one of its species."]
    }
    member = hold(project, owner)
    with pytest.raises(ValidationError) as error:
        hold(project, owner, animal=member.animal)
    assert error.value.messages == ["It is in this project already. Choose another."]


def test_move_review_is_kept_with_its_reason(line: Line, owner: Account) -> None:
    member = hold(begin(line, owner), owner)
    entry = domain.move_review(member=member, review_on=JULY, reason="not shed yet", by=owner)
    member.refresh_from_db()
    assert (member.review_on, entry.reason) == (JULY, "not shed yet")
    assert str(entry) == f"Moved the review of {member.animal.code} to 1 July 2026"
    assert [row.review_on for row in member.history.all()] == [JULY, JUNE]
    undo(entry=entry, by=owner)
    member.refresh_from_db()
    assert member.review_on == JUNE


def test_release_is_a_step_with_a_reason_and_can_be_undone(line: Line, owner: Account) -> None:
    member = hold(begin(line, owner), owner)
    entry = domain.release(member=member, on=JULY, reason="a male", by=owner)
    member.refresh_from_db()
    assert (member.released_on, member.release_reason, entry.reason) == (JULY, "a male", "a male")
    with pytest.raises(Refused) as error:
        domain.release(member=member, on=JULY, reason="again", by=owner)
    assert str(error.value) == (
        f"{member.animal} is not in Pale tide any more. Take it in again first."
    )
    undo(entry=entry, by=owner)
    member.refresh_from_db()
    assert (member.released_on, member.release_reason) == (None, "")


def test_release_before_it_came_in_is_refused(line: Line, owner: Account) -> None:
    member = hold(begin(line, owner), owner, since=JUNE, review_on=JULY)
    with pytest.raises(ValidationError) as error:
        domain.release(member=member, on=MAY, reason="a male", by=owner)
    assert error.value.message_dict == {
        "on": ["It came in on 1 June 2026. Choose that day or a later one."]
    }


def test_who_was_released_can_come_back(line: Line, owner: Account) -> None:
    project = begin(line, owner)
    member = hold(project, owner)
    domain.release(member=member, on=JULY, reason="a male", by=owner)
    hold(project, owner, animal=member.animal, since=JULY, review_on=date(2026, 8, 1))
    assert Member.objects.filter(animal=member.animal).count() == 2


def test_closing_and_reopening(line: Line, owner: Account) -> None:
    project = begin(line, owner)
    entry = domain.close_project(project=project, on=JULY, reason="reached", by=owner)
    assert (project.closed_on, str(entry)) == (JULY, "Closed the project Pale tide")
    with pytest.raises(Refused) as error:
        hold(project, owner)
    assert str(error.value) == "Pale tide is closed. Reopen it first."
    with pytest.raises(Refused) as error:
        domain.close_project(project=project, on=JULY, reason="again", by=owner)
    assert str(error.value) == "Pale tide was closed already. Reopen it to change it."
    domain.reopen_project(project=project, reason="once more", by=owner)
    project.refresh_from_db()
    assert project.closed_on is None
    with pytest.raises(Refused) as error:
        domain.reopen_project(project=project, reason="again", by=owner)
    assert str(error.value) == "Pale tide is open already: nothing is left to do."
