"""Goals of projects in words."""

from collections.abc import Iterable

from keeper.models import GoalLook, GoalPart, Need, Project, Sex, SexDetermination

_VERBS = {Need.SHOWS: "shows", Need.CARRIES: "carries", Need.TWO: "has two copies of"}


def part_words(part: GoalPart) -> str:
    """Return one part of a goal in words: "shows Saltgrass HAR"."""
    gene = str(part.line) if part.line else f"{part.trait}, any line"
    if part.line is None and part.need == Need.SHOWS:
        gene = str(part.trait)
    return f"{_VERBS[Need(part.need)]} {gene}"


def sex_left_out(project: Project) -> str:
    """Say why the sex that a goal asks for is not in its chances; empty where it is, or none is.

    Where no chromosomes decide, nobody says that half of the hatchlings are of either sex.
    """
    if project.sex not in {Sex.FEMALE, Sex.MALE} or project.species.has_sex_chromosomes:
        return ""
    warmth = project.species.sex_determination == SexDetermination.TEMPERATURE
    why = "the warmth of the eggs decides it" if warmth else "what decides it is not known here"
    return f"The sex is not in these chances: of {project.species} {why}."


def goal_words(project: Project, parts: Iterable[GoalPart], looks: Iterable[GoalLook] = ()) -> str:
    """Return a goal in one sentence: "2 males, each shows Saltgrass and carries Quillwort"."""
    kind = {"female": "female", "male": "male"}.get(project.sex, "animal")
    who = f"{project.wanted} {kind}s, each" if project.wanted > 1 else f"One {kind} that"
    words = [part_words(part) for part in parts] + [f"shows {one.look}" for one in looks]
    if len(words) > 1:
        words[-2:] = [f"{words[-2]} and {words[-1]}"]
    return f"{who} {', '.join(words)}"
