"""A process that is killed in the midst of it, without a word: the book is whole all the same."""

import shutil
from pathlib import Path

import pytest

from tests.keeper.backups.people import enter, names
from tests.processes import killed_at, manage

pytestmark = pytest.mark.sockets
_STOPPING = "tests.keeper.backups.stopping"


@pytest.mark.parametrize("place", ["archive.write", "making._hash"])
def test_killed_while_a_copy_is_made(begun: Path, tmp_path: Path, place: str) -> None:
    data = shutil.copytree(begun, tmp_path / "data")
    good = sorted(one.name for one in (data / "backups").iterdir())
    killed_at(data, _STOPPING, place)
    assert names(data) == ["Mara"]
    # What has a good name is good, and was there before.
    assert sorted(one.name for one in (data / "backups").glob("keptlines-*")) == good
    again = manage("back_up", data=data)
    assert again.returncode == 0, again.stderr
    left = [one.name for one in (data / "backups").iterdir() if one.name not in good]
    assert len(left) == 1 and left[0].startswith("keptlines-")
    assert not list(data.glob("copying-*"))


@pytest.mark.parametrize(
    "place",
    # With rows and pictures exchanged and nothing said for good; and when it was.
    ["pictures.exchange", "restoring._recomputed"],
)
def test_killed_while_a_copy_is_restored(begun: Path, tmp_path: Path, place: str) -> None:
    data = shutil.copytree(begun, tmp_path / "data")
    (copy,) = (data / "backups").iterdir()
    enter(data, "Tobin", "tobin")
    (data / "media" / "one.jpg").write_bytes(b"other")
    killed_at(data, _STOPPING, place, str(copy))
    through = place == "restoring._recomputed"
    assert names(data) == (["Mara"] if through else ["Mara", "Tobin"])
    # The next copy, restore or start settles which pictures are the book's.
    assert manage("back_up", data=data).returncode == 0
    assert (data / "media" / "one.jpg").read_bytes() == (b"one" if through else b"other")
    assert not (data / "media-before").exists()
