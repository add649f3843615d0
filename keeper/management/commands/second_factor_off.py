"""Turn a second factor off, for whoever lost the phone and the recovery codes.

It needs the machine that the book is kept on, as `changepassword` does.
"""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keeper.domain.accounts.second_factor import turn_off
from keeper.domain.book.writing import Refused
from keeper.models import Account


class Command(BaseCommand):
    """`manage.py second_factor_off NAME`."""

    help = "Turn off the second factor of an account; it logs in with its password alone."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the name."""
        parser.add_argument("name", help="the name that the account logs in with")

    def handle(self, *args: Any, **options: Any) -> None:
        """Turn it off."""
        try:
            account = Account.objects.get_by_natural_key(options["name"])
            turn_off(account=account, by=None)
        except Account.DoesNotExist as error:
            raise CommandError(f"no account is called {options['name']}") from error
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(f"{account.name} logs in with the password alone now.")
