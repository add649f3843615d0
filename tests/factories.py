"""Dull rows for tests. What matters in a test is said in the test.

Rows made here skip `domain.book.writing`: no daybook entry, no standings. Use it (or the domain's
own functions) where a test is about numbers.
"""

from factory.declarations import SelfAttribute, Sequence, SubFactory
from factory.django import DjangoModelFactory

from keeper import models as m
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


class SpeciesFactory(DjangoModelFactory[m.Species]):
    """An XY species."""

    class Meta:
        model = m.Species

    name = Sequence(lambda n: f"species {n}")
    sex_determination = "XY"


class LocusFactory(DjangoModelFactory[m.Locus]):
    """An autosomal locus."""

    class Meta:
        model = m.Locus

    species = SubFactory(SpeciesFactory)
    name = Sequence(lambda n: f"locus {n}")


class TraitFactory(DjangoModelFactory[m.Trait]):
    """A recessive trait."""

    class Meta:
        model = m.Trait
        skip_postgeneration_save = True

    species = SubFactory(SpeciesFactory)
    name = Sequence(lambda n: f"Trait {n}")


class LineFactory(DjangoModelFactory[m.Line]):
    """A line at a locus of its own."""

    class Meta:
        model = m.Line

    trait = SubFactory(TraitFactory)
    locus = SubFactory(LocusFactory, species=SelfAttribute("..trait.species"))
    code = Sequence(lambda n: chr(65 + n // 26 % 26) + chr(65 + n % 26))
    name = Sequence(lambda n: f"line {n}")


class ContactFactory(DjangoModelFactory[m.Contact]):
    """A source whose word is taken."""

    class Meta:
        model = m.Contact

    name = Sequence(lambda n: f"contact {n}")


class AnimalFactory(DjangoModelFactory[m.Animal]):
    """A founder of unknown sex."""

    class Meta:
        model = m.Animal

    species = SubFactory(SpeciesFactory)
    code = Sequence(lambda n: f"A-{n:03}")


class ClutchFactory(DjangoModelFactory[m.Clutch]):
    """A clutch of a female."""

    class Meta:
        model = m.Clutch

    dam = SubFactory(AnimalFactory, sex="female")
    species = SelfAttribute("dam.species")
    code = Sequence(lambda n: f"C-{n:02}")
