"""What a sheet says of the living animal: its last weight, its last meals, how it looks.

None of it is a claim about genes. The picture itself stays in its file; the sheet holds its digest,
and is printed with the picture as long as the file is the same.
"""

import hashlib
from typing import Any

from django.utils.formats import date_format

from keeper.domain.husbandry.queries import last_of
from keeper.models import Animal, Meal, Outcome, Photo, Weight

_MEALS = 3


def care(animal: Animal) -> list[str]:
    """Return the last weight and the last meals in words; empty where none is noted."""
    said = []
    for weight in last_of(Weight, [animal.pk]).get(animal.pk, []):
        said.append(f"Weighed {weight} on {date_format(weight.on, 'j F Y')}.")
    meals = last_of(Meal, [animal.pk], _MEALS).get(animal.pk, [])
    if meals:
        told = "; ".join(f"{_meal(one)} on {date_format(one.on, 'j F Y')}" for one in meals)
        said.append(f"Last meals: {told}.")
    return said


def _meal(meal: Meal) -> str:
    size = f", {meal.grams} g" if meal.grams else ""
    became = {Outcome.TAKEN: "taken", Outcome.REFUSED: "refused"}.get(Outcome(meal.outcome))
    return f"{meal.prey}{size}, {became or meal.get_outcome_display()}"


def picture(animal: Animal) -> dict[str, Any]:
    """Return the digest of the animal's newest photo and its alternative text; empty: none."""
    newest: Photo | None = Photo.objects.live().filter(animal=animal).first()
    data = _bytes(newest) if newest is not None else b""
    if newest is None or not data:
        return {}
    on = f", {date_format(newest.taken_on, 'j F Y')}" if newest.taken_on else ""
    return {
        "sha256": hashlib.sha256(data).hexdigest(),
        "alt": f"Photo of {animal.code}{on}",
    }


def picture_file(animal: Animal, told: dict[str, Any]) -> bytes:
    """Return the picture that a sheet tells of; nothing where the book has it no more."""
    wanted = told.get("sha256")
    if wanted is None:
        return b""
    for photo in Photo.objects.filter(animal=animal):
        data = _bytes(photo)
        if hashlib.sha256(data).hexdigest() == wanted:
            return data
    return b""


def _bytes(photo: Photo) -> bytes:
    try:
        with photo.image.open("rb") as file:
            return bytes(file.read())
    except FileNotFoundError:  # the file is gone: the sheet is issued and printed without it
        return b""
