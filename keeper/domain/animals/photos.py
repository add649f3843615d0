"""Photos: turned upright, made smaller, and without the place and the camera they came from."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from threading import Lock
from typing import Any

from django.core.files.base import ContentFile
from django.utils import timezone

from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, Animal, DaybookEntry, Photo

# The longer side of what is kept, and of the small pictures of a page.
KEPT, SMALL = 2000, 480
_LARGEST = 30 * 1024 * 1024
_MOST_PIXELS = 80_000_000
# What decoding may take, in bytes, one picture at a time: this server has other things to do.
_MOST_MEMORY = 256 * 1024 * 1024
# Kept in one entry; each is held encoded until all are read.
MOST_AT_ONCE = 20
# Where a file says when its picture was taken.
_EXIF, _ORIGINAL = 0x8769, 0x9003
_FIRST_CAMERAS = date(1990, 1, 1)
_FORMATS = ("JPEG", "PNG", "WEBP")
# Bytes that a decoder holds for each pixel of the file beside the picture itself: of a progressive
# JPEG all coefficients, three of two bytes; of a WebP the canvas before and the planes of colour.
_BESIDE = {"progressive": 6, "WEBP": 8}
_ONE_AT_A_TIME = Lock()


@dataclass(frozen=True)
class Read:
    """A picture that was read: encoded anew, and the day on which its file says it was taken."""

    jpeg: bytes
    on: date | None


def add_photo(
    *, animal: Animal, upload: Any, by: Account, caption: str = "", taken_on: date | None = None
) -> DaybookEntry:
    """Keep a photo of an animal, as `add_photos` does."""
    return add_photos(animal=animal, uploads=[upload], by=by, caption=caption, taken_on=taken_on)


def add_photos(
    *,
    animal: Animal,
    uploads: Sequence[Any],
    by: Account,
    caption: str = "",
    taken_on: date | None = None,
) -> DaybookEntry:
    """Keep photos of an animal in one entry, each of the day its file says, else of `taken_on`.

    Raises:
        Refused: one is no picture that can be read, and then none is kept; or they are too many.
    """
    if not uploads:
        raise Refused("No photo was sent. Take one, or choose one or several.")
    if len(uploads) > MOST_AT_ONCE:
        raise Refused(
            f"{len(uploads)} photos are more than are kept at once. Send {MOST_AT_ONCE} at most."
        )
    photos = []
    for upload in uploads:
        read = _read_named(upload, len(uploads))
        photo = Photo(animal=animal, caption=caption, taken_on=read.on or taken_on)
        photo.image = ContentFile(read.jpeg, name=f"{animal.code}.jpg")
        photos.append(photo)
    added = "a photo" if len(photos) == 1 else f"{len(photos)} photos"
    try:
        with writing(by=by, what=f"Added {added} of {animal}", subject=animal) as book:
            for photo in photos:
                book.keep(photo)
    except BaseException:
        for photo in photos:
            _leave_no_file(photo)
        raise
    return book.entry


def _read_named(upload: Any, among: int) -> Read:
    """Read a picture; where it is one of several, a refusal names it."""
    try:
        return read(upload)
    except Refused as refused:
        if among == 1:
            raise
        said = f"{str(upload.name)[:60]}: {refused} None of the {among} was kept."
        raise Refused(f"{said} Leave it out, or send another.") from None


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
    """Return a picture encoded anew, as `read` does."""
    return read(upload).jpeg


def read(upload: Any) -> Read:
    """Read a picture: upright, at most KEPT pixels a side; nothing else is kept but its day.

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
            on = _taken_on(opened)
            # Smaller first: to turn it takes as much again.
            opened.thumbnail((KEPT, KEPT))
            return Read(_encoded(_plain(ImageOps.exif_transpose(opened)), quality=85), on)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise Refused(_TOO_MANY) from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise Refused(
            "This file is no picture that can be read here. Send a JPEG, PNG or WebP; "
            "phones can be set to take JPEG (“most compatible”)."
        ) from error


def _taken_on(opened: Any) -> date | None:
    """Return the day on which a file says its picture was taken; None: it says none that can be.

    Exif (CIPA DC-008): DateTimeOriginal of the Exif directory, 2026:05:03 14:30:00. A camera whose
    clock was never set says a day long before, or one to come.
    """
    try:
        said = str(opened.getexif().get_ifd(_EXIF).get(_ORIGINAL, ""))
        on = datetime.strptime(said[:10], "%Y:%m:%d").date()
    except (ValueError, SyntaxError, KeyError, TypeError, OSError):
        return None
    return on if _FIRST_CAMERAS <= on <= timezone.localdate() else None


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
