"""What a picture may take: pixels, memory, and one at a time."""

import io
import zlib
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from keeper.domain.animals import photos
from keeper.domain.book.writing import Refused


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
