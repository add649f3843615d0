"""`manage.py compare`: what would help a project most, of everything alone and two together."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from keeper.domain import inference
from keeper.domain.projects import comparing
from keeper.domain.projects.outlook import course_of
from keeper.domain.projects.queries import members_here
from keeper.management.working import add_workers, progress, workers
from keeper.models import Project


class Command(BaseCommand):
    """Compare, here or by workers, and print what gains most first."""

    help = "Tell which changes, alone and two together, would bring a project's goal nearer."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the project's name, and who works it out if not this process."""
        parser.add_argument("project", help="its name")
        add_workers(parser, "work it out")

    def handle(self, *_: Any, project: str, **options: Any) -> None:
        """Print a line for each change: points gained, give or take, and the change."""
        found = Project.objects.live().filter(name__iexact=project).first()
        if found is None:
            raise CommandError(
                f"There is no project {project!r}. Give its name as the book has it."
            )
        members = list(members_here(found))
        if not members:
            raise CommandError(f"No animal is in {found} yet: take some in first.")
        course = course_of(found, members)
        changes = comparing.together(found, members, course)
        try:
            with workers(options) as them, progress(self.stderr, "Comparing") as told:
                compared = comparing.compare(
                    found, members, course, timezone.localdate(), changes,
                    workers=them, told=told,
                )  # fmt: skip
        except (inference.NoWorkers, inference.Unanswerable) as error:
            raise CommandError(str(error)) from error
        for one in compared:
            if one.gain is None:
                self.stdout.write(f"{'':>15}  {one.change.words}: {one.trouble}")
            else:
                more, bar = 100 * one.gain.more, 196 * one.gain.error
                self.stdout.write(f"{more:+6.1f} ± {bar:4.1f}  {one.change.words}")
