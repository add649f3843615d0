"""Photos: turned upright, made smaller, and without the place and the camera they came from."""

import io
from datetime import date
from typing import Any

from django.core.files.base import ContentFile

from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, Animal, DaybookEntry, Photo

# The longer side of what is kept, and of the small pictures of a page.
KEPT, SMALL = 2000, 480
_LARGEST = 30 * 1024 * 1024
_MOST_PIXELS = 80_000_000
_FORMATS = ("JPEG", "PNG", "WEBP")


def add_photo(
    *, animal: Animal, upload: Any, by: Account, caption: str = "", taken_on: date | None = None
) -> DaybookEntry:
    """Keep a photo of an animal.

    Raises:
        Refused: it is no picture that can be read.
    """
    picture = as_jpeg(upload)
    photo = Photo(animal=animal, caption=caption, taken_on=taken_on)
    photo.image = ContentFile(picture, name=f"{animal.code}.jpg")
    with writing(by=by, what=f"Added a photo of {animal}", subject=animal) as book:
        book.keep(photo)
    return book.entry


def change_photo(*, photo: Photo, by: Account, reason: str = "") -> DaybookEntry:
    """Save a photo whose caption or day was changed in memory."""
    what = f"Changed the caption of a photo of {photo.animal}"
    with writing(by=by, what=what, reason=reason, subject=photo.animal) as book:
        book.keep(photo)
    return book.entry


def as_jpeg(upload: Any) -> bytes:
    """Return a picture encoded anew: upright, at most KEPT pixels a side, nothing but the picture.

    Raises:
        Refused: it is too large, or no picture of a kind that is read here.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    if upload.size is not None and upload.size > _LARGEST:
        raise Refused("This picture is larger than 30 MB. Make it smaller first.")
    try:
        upload.seek(0)
        with Image.open(upload, formats=_FORMATS) as opened:
            if opened.width * opened.height > _MOST_PIXELS:
                raise Refused("This picture has more than 80 million pixels. Make it smaller.")
            opened.draft("RGB", (KEPT, KEPT))
            upright = ImageOps.exif_transpose(opened)
            upright.thumbnail((KEPT, KEPT))
            return _encoded(_plain(upright), quality=85)
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise Refused(
            "This file is no picture that can be read here. Send a JPEG, PNG or WebP; "
            "phones can be set to take JPEG (“most compatible”)."
        ) from error


def small(photo: Photo) -> bytes:
    """Return a photo small enough for a page that shows many."""
    from PIL import Image

    with photo.image.open() as kept, Image.open(kept) as opened:
        opened.draft("RGB", (SMALL, SMALL))
        opened.thumbnail((SMALL, SMALL))
        return _encoded(opened, quality=80)


def _plain(picture: Any) -> Any:
    """On white where it was transparent, and without any of the file's other contents."""
    from PIL import Image

    flat = Image.new("RGB", picture.size, "white")
    layer = picture.convert("RGBA")
    flat.paste(layer, mask=layer.getchannel("A"))
    return flat


def _encoded(picture: Any, *, quality: int) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality, optimize=True, exif=b"")
    return out.getvalue()
