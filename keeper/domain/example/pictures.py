"""The example's photos: a drawing of each animal by what it showed on the day that it came."""

from collections.abc import Collection
from datetime import date

from django.core.files.base import ContentFile

from keeper.domain.book.writing import Writing
from keeper.domain.example.drawing import portrait
from keeper.models import Animal, Photo


def keep_picture(book: Writing, animal: Animal, shown: Collection[str], on: date) -> None:
    """Add the picture of an animal to the entry that brings it in; `shown` are names of traits."""
    photo = Photo(animal=animal, taken_on=on)
    drawn = portrait(animal.species.name, shown, animal.code)
    photo.image = ContentFile(drawn, name=f"{animal.code}.jpg")
    book.keep(photo)
