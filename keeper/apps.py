"""The one Django app of the project."""

from django.apps import AppConfig


class KeeperConfig(AppConfig):
    """The book's rows, pages and commands."""

    name = "keeper"
    verbose_name = "Book"
