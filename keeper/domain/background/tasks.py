"""What the queue calls; read only where there is one, for its library may be missing."""

from django_tasks import task

from keeper.domain.background import working


@task()
def perform(pk: int) -> None:
    """Do a job."""
    working.perform(pk)
