"""What a picture may take: pixels, memory, and one at a time."""

import io
import zlib
from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from keeper.domain.animals import photos
from keeper.domain.book.writing import Refused
from keeper.models import DaybookEntry, Photo
from tests.factories import AnimalFactory


def _file(kind: str, size: tuple[int, int], **more: Any) -> SimpleUploadedFile:
    made = io.BytesIO()
    Image.new("RGB" if kind == "JPEG" else "L", size).save(made, kind, **more)
    return SimpleUploadedFile(f"picture.{kind.lower()}", made.getvalue())


@pytest.mark.parametrize("size", [(10_000, 8_001), (10_000, 9_500), (20_000, 9_000)])
def test_picture_of_too_many_pixels_is_refused_before_it_is_decoded(size: tuple[int, int]) -> None:
    with pytest.raises(Refused, match="more than 80 million pixels"):
        photos.as_jpeg(_header(*size))


def _header(width: int, height: int) -> SimpleUploadedFile:
    """A picture that says it is so large; nothing follows."""
    small = _file("PNG", (1, 1)).read()
    ihdr = small[12:16] + width.to_bytes(4) + height.to_bytes(4) + small[24:29]
    return SimpleUploadedFile(
        "large.png", small[:12] + ihdr + zlib.crc32(ihdr).to_bytes(4) + small[33:]
    )


def test_picture_is_refused_by_what_decoding_it_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same pixels: a plain JPEG is read in a smaller size, a progressive one whole."""
    monkeypatch.setattr(photos, "KEPT", 100)
    monkeypatch.setattr(photos, "_MOST_MEMORY", 1024**2)
    size = (1000, 800)
    assert Image.open(io.BytesIO(photos.as_jpeg(_file("JPEG", size)))).size == (100, 80)
    for kind, more, takes in (("PNG", {}, 3), ("JPEG", {"progressive": True}, 4)):
        said = f"would take {takes} MB of memory, and 1 MB is the most"
        with pytest.raises(Refused, match=said):
            photos.as_jpeg(_file(kind, size, **more))


def test_pictures_are_decoded_one_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    held = []
    encode = photos._encoded

    def encoded(*args: Any, **kwargs: Any) -> bytes:
        held.append(photos._ONE_AT_A_TIME.locked())
        return encode(*args, **kwargs)

    monkeypatch.setattr(photos, "_encoded", encoded)
    photos.as_jpeg(_file("PNG", (4, 4)))
    assert held == [True]
    assert not photos._ONE_AT_A_TIME.locked()


@pytest.mark.django_db
def test_several_photos_are_one_entry_each_of_its_own_day_and_without_the_place(
    owner: Any, owner_client: Client, settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    animal = AnimalFactory.create(hatched_on=date(2024, 2, 29))
    sent = [_of_phone("2025:03:01 10:00:00"), _of_phone(""), _of_phone("2099:01:01 10:00:00")]
    assert _places(sent[0]) == {1: "N"}
    address = reverse("animals-photo-new", args=[animal.pk])
    form = {"taken_on": "2026-03-01", "caption": "grown", "picture": sent}
    assert owner_client.post(address, form).status_code == 302
    kept = list(Photo.objects.order_by("pk"))
    assert DaybookEntry.objects.get().what == f"Added 3 photos of {animal}"
    assert [one.taken_on for one in kept] == [date(2025, 3, 1), *2 * [date(2026, 3, 1)]]
    # The file says that it lies on its side: it is kept upright, and says nothing more.
    assert [(one.width, one.height) for one in kept] == 3 * [(30, 40)]
    assert [_places(_kept(one)) for one in kept] == 3 * [{}]
    page = owner_client.get(reverse("animals-photos", args=[animal.pk])).content.decode()
    assert page.count("<figure>") == 2
    assert "12 months, 1 March 2025" in page
    assert "2 years, 1 March 2026" in page
    assert 'capture="environment"' in owner_client.get(address).content.decode()
    none = owner_client.post(address, {"caption": "x"}).content.decode()
    assert "There is no photo. Take one, or choose one or several." in none
    broken = SimpleUploadedFile("text.jpg", b"no picture")
    refused = owner_client.post(address, {"picture": [_of_phone(""), broken]}).content.decode()
    assert "text.jpg: This file is no picture" in refused
    assert Photo.objects.count() == 3


def _of_phone(taken: str) -> SimpleUploadedFile:
    """A photo as phones send it: on its side, with its day and its place."""
    exif = Image.Exif()
    exif[0x0112] = 6
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    exif.get_ifd(0x8825)[1] = "N"
    return _file("JPEG", (40, 30), exif=exif)


def _kept(photo: Photo) -> SimpleUploadedFile:
    with photo.image.open() as file:
        return SimpleUploadedFile("kept.jpg", file.read())


def _places(file: Any) -> dict[int, Any]:
    file.open()
    made = file.read()
    file.seek(0)
    return dict(Image.open(io.BytesIO(made)).getexif().get_ifd(0x8825))
