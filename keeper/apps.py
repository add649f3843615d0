"""The one Django app of the project."""

from django.apps import AppConfig
from django.db.backends.signals import connection_created

from keeper.serving.letters import fold_all_letters


class KeeperConfig(AppConfig):
    """The book's rows, pages and commands."""

    name = "keeper"
    verbose_name = "Book"

    def ready(self) -> None:
        """Prepare every connection to the database that will be opened."""
        connection_created.connect(fold_all_letters, dispatch_uid="keeper.letters")
