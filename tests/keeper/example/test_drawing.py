"""The example's pictures: drawn from a seed and a look alone."""

import io

import pytest
from PIL import Image, ImageChops, ImageStat

from keeper.domain.example.drawing import HEIGHT, WIDTH, dressed, portrait
from tests.keeper.example.test_building import events

TRAITS = [(one["species"], one["name"]) for one in events() if one["do"] == "trait"]


def opened(drawn: bytes) -> Image.Image:
    return Image.open(io.BytesIO(drawn)).convert("RGB")


def test_the_same_seed_and_look_give_the_same_bytes() -> None:
    first = portrait("Royal python", ["Saltgrass", "Quillwort"], "21-01-01")
    assert portrait("Royal python", ["Quillwort", "Saltgrass"], "21-01-01") == first
    assert portrait("Royal python", ["Saltgrass", "Quillwort"], "21-01-02") != first


@pytest.mark.parametrize(("species", "trait"), TRAITS)
def test_each_trait_of_the_example_changes_the_picture(species: str, trait: str) -> None:
    normal, shown = (opened(portrait(species, look, "F-1")) for look in ([], [trait]))
    assert dressed(species, [trait]) != dressed(species, [])
    moved = ImageStat.Stat(ImageChops.difference(normal, shown)).sum
    assert sum(moved) > 50_000


def test_two_looks_are_told_apart() -> None:
    looks = [("Royal python", ["Saltgrass"]), ("Royal python", ["Saltgrass", "Quillwort"])]
    one, other = (opened(portrait(*look, "F-1")) for look in looks)
    assert sum(ImageStat.Stat(ImageChops.difference(one, other)).sum) > 50_000


def test_a_picture_is_small() -> None:
    drawn = portrait("Royal python", ["Mizzle"], "F-1")
    assert opened(drawn).size == (WIDTH, HEIGHT)
    assert len(drawn) < 12_000
