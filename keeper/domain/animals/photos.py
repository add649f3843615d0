"""Photos: turned upright, made smaller, and without the place and the camera they came from."""

import io
from datetime import date
from threading import Lock
from typing import Any

from django.core.files.base import ContentFile

from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, Animal, DaybookEntry, Photo

# The longer side of what is kept, and of the small pictures of a page.
KEPT, SMALL = 2000, 480
_LARGEST = 30 * 1024 * 1024
_MOST_PIXELS = 80_000_000
# What decoding may take, in bytes, one picture at a time: this server has other things to do.
_MOST_MEMORY = 256 * 1024 * 1024
_FORMATS = ("JPEG", "PNG", "WEBP")
# Bytes that a decoder holds for each pixel of the file beside the picture itself: of a progressive
# JPEG all coefficients, three of two bytes; of a WebP the canvas before and the planes of colour.
_BESIDE = {"progressive": 6, "WEBP": 8}
_ONE_AT_A_TIME = Lock()


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
    try:
        with writing(by=by, what=f"Added a photo of {animal}", subject=animal) as book:
            book.keep(photo)
    except BaseException:
        _leave_no_file(photo)
        raise
    return book.entry


def _leave_no_file(photo: Photo) -> None:
    """Take away the file of a photo that was not kept, if it was written."""
    if photo.image and getattr(photo.image, "_committed", False):
        photo.image.delete(save=False)


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
        with _ONE_AT_A_TIME, Image.open(upload, formats=_FORMATS) as opened:
            _refuse_too_much(opened)
            # Smaller first: to turn it takes as much again.
            opened.thumbnail((KEPT, KEPT))
            return _encoded(_plain(ImageOps.exif_transpose(opened)), quality=85)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise Refused(_TOO_MANY) from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise Refused(
            "This file is no picture that can be read here. Send a JPEG, PNG or WebP; "
            "phones can be set to take JPEG (“most compatible”)."
        ) from error


_TOO_MANY = "This picture has more than 80 million pixels. Make it smaller first."


def _refuse_too_much(opened: Any) -> None:
    """Refuse a picture by what decoding it will take; a JPEG is asked for in a smaller size.

    Raises:
        Refused: it has too many pixels, or takes too much memory.
    """
    whole = opened.width * opened.height
    if whole > _MOST_PIXELS:
        raise Refused(_TOO_MANY)
    beside = _BESIDE.get("progressive" if opened.info.get("progressive") else opened.format, 0)
    opened.draft("RGB", (KEPT, KEPT))
    # A pixel of colour takes four bytes.
    takes = opened.width * opened.height * 4 + whole * beside
    if takes > _MOST_MEMORY:
        raise Refused(
            f"To read this picture would take {takes // 1024**2} MB of memory, and "
            f"{_MOST_MEMORY // 1024**2} MB is the most. Make it smaller first."
        )


def small(photo: Photo) -> bytes:
    """Return a photo small enough for a page that shows many.

    Raises:
        FileNotFoundError: the file is not there.
    """
    from PIL import Image

    with _ONE_AT_A_TIME, photo.image.open() as kept, Image.open(kept) as opened:
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
