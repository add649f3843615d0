"""Dull rows for tests. What matters in a test is said in the test."""

from factory.declarations import Sequence
from factory.django import DjangoModelFactory

from keeper.models import Account, Role

PASSWORD = "a plain long password"


class AccountFactory(DjangoModelFactory[Account]):
    """A helper's account with the password above."""

    class Meta:
        model = Account
        skip_postgeneration_save = True

    name = Sequence(lambda n: f"helper {n}")
    role = Role.HELPER

    @classmethod
    def _create(cls, model_class: type[Account], *args: object, **kwargs: object) -> Account:
        account = model_class(**kwargs)
        account.set_password(PASSWORD)
        account.save()
        return account
