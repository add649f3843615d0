"""Which columns are searched for a person: every text of the book but for those listed here.

They are found by themselves, so that a new kind of record is searched from the day it is made.
"""

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

from django.apps import apps
from django.db.models import BinaryField, CharField, Field, FileField, JSONField, Model, TextField

_APP = "keeper"
# What the program or the register calls things; a person's name in it is that of a thing.
_OF_THE_REGISTER = "names in the register and in pedigrees stay; the preview lists those that fit"
# Column → why it is not searched; a history leaves out what its record does.
LEFT_OUT: Mapping[str, str] = MappingProxyType(
    {
        "Animal.code": _OF_THE_REGISTER,
        "Animal.name": _OF_THE_REGISTER,
        "Clutch.code": _OF_THE_REGISTER,
        "Species.name": _OF_THE_REGISTER,
        "Species.scientific_name": _OF_THE_REGISTER,
        "Trait.name": _OF_THE_REGISTER,
        "Line.name": _OF_THE_REGISTER,
        "Line.code": _OF_THE_REGISTER,
        "Locus.name": _OF_THE_REGISTER,
        "NamedLook.name": _OF_THE_REGISTER,
        "Account.name": "people who work with the book are no contacts",
        "Account.reach": "people who work with the book are no contacts",
        "Account.login_name": "people who work with the book are no contacts",
        "Account.password": "a secret of somebody else",
        "SecondFactor.secret": "a secret of somebody else",
        "RecoveryCode.digest": "a secret of somebody else",
        "Passkey.host": "a name of the book itself",
        "Passkey.credential": "drawn at random by a device",
        "Passkey.public": "the public half of a key",
        "Passkey.handle": "drawn at random",
        "Passkey.reached_by": "words of the standard",
        "Invitation.digest": "a secret of somebody else",
        "StockPage.code": "drawn at random",
        "CalendarFeed.digest": "a secret of somebody else",
        "Sheet.code": "drawn at random",
        "Sheet.page_code": "drawn at random",
        "Sheet.salt": "drawn at random; that of a sheet to the person is destroyed",
        "Sheet.signed": "it names no person; for a buyer stands a salted digest",
        "Sheet.signature": "a signature over that",
        "Sheet.digest": "a digest of that",
        "PairWord.signed": "it goes with whoever signed it, and names nobody else",
        "PairWord.signature": "a signature over that",
        "PairWord.public": "the public half of a key",
        "PairWord.fingerprint": "the mark of a key",
        "PairWord.digest": "a digest of what was signed",
        "PairWord.report": "it holds figures and identities alone",
        "SignedPaper.signed": "it goes with whoever signed it, and names nobody else",
        "SignedPaper.signature": "a signature over that",
        "SignedPaper.public": "the public half of a key",
        "SignedPaper.fingerprint": "the mark of a key",
        "SignedPaper.digest": "a digest of what was signed",
        "Statement.told": "it holds figures alone",
        "SigningKey.public": "the public half of a key",
        "SigningKey.fingerprint": "the mark of a key",
        "DaybookEntry.token": "drawn at random",
        "Book.epoch": "drawn at random",
        "LogIn.session_key": "drawn at random",
        "LogIn.session_data": "who is logged in; it ends by itself",
        "Shows.pieces": "it holds figures alone",
        "Import.table": "searched cell by cell, with its file",
    }
)


def searched() -> Iterator[tuple[type[Model], "Field[Any, Any]"]]:
    """Every column that is searched, by its table."""
    for model in apps.get_app_config(_APP).get_models(include_auto_created=True):
        for field in model._meta.concrete_fields:
            if _is_text(field) and _label(model, field) not in LEFT_OUT:
                yield model, field


def named_in_the_register() -> Iterator[tuple[type[Model], "Field[Any, Any]"]]:
    """Columns that are not searched because a name in them is that of a thing."""
    for label, why in LEFT_OUT.items():
        if why == _OF_THE_REGISTER:
            name, _, column = label.partition(".")
            model = apps.get_model(_APP, name)
            yield model, model._meta.get_field(column)


def decided() -> set[str]:
    """Every model of which is decided what an erasure does with it."""
    return {model._meta.label for model in apps.get_models(include_auto_created=True)} - undecided()


def undecided() -> set[str]:
    """Models with a column of a kind that nobody has thought of here."""
    return {
        model._meta.label
        for model in apps.get_app_config(_APP).get_models(include_auto_created=True)
        for field in model._meta.concrete_fields
        if isinstance(field, BinaryField) and _label(model, field) not in LEFT_OUT
    }


def _label(model: type[Model], field: "Field[Any, Any]") -> str:
    of: type[Model] = getattr(model, "instance_type", model)
    return f"{of.__name__}.{field.name}"


def _is_text(field: "Field[Any, Any]") -> bool:
    """Whether somebody's own words can stand in a column; a file's are looked at with the file."""
    return isinstance(field, CharField | TextField | JSONField) and not (
        field.choices or isinstance(field, FileField) or field.primary_key
    )
