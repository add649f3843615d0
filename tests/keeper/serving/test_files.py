"""Where files lie: what a setting means, and what is refused at a start."""

import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from keeper.serving import files
from tests.keeper.serving.test_settings import read
from tests.processes import manage

_ELSEWHERE = Path("usual", "pictures")


def test_folder_is_taken_as_it_is_written_else_the_usual_one() -> None:
    assert files.chosen("", _ELSEWHERE)[0] == _ELSEWHERE
    folder, storage = files.chosen("shared/pictures", _ELSEWHERE)
    assert folder == Path("shared/pictures")
    assert storage == {"BACKEND": "django.core.files.storage.FileSystemStorage"}


def test_store_of_objects_is_private_and_keeps_no_whole_file_in_memory() -> None:
    _, storage = files.chosen("s3://yard-book/pictures/", _ELSEWHERE)
    assert storage == {
        "BACKEND": "keeper.serving.object_store.ObjectStore",
        "OPTIONS": {
            "bucket_name": "yard-book",
            "location": "pictures",
            "default_acl": None,
            "file_overwrite": False,
            "max_memory_size": 8 * 1024 * 1024,
        },
    }


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("s3://", "names no bucket. Write a folder, or s3://BUCKET/PREFIX."),
        ("s3://key:secret@bucket/x", "names no bucket."),
        ("https://store.example/bucket", "which is no place that is known here. Write a folder"),
        ("s3://bucket/x?region=a", "which is no place that is known here."),
        ("s3://[bucket", "which is no place that is known here."),
    ],
)
def test_what_is_no_place_is_refused_with_what_to_write(given: str, said: str) -> None:
    with pytest.raises(ValueError) as error:
        files.chosen(given, _ELSEWHERE)
    assert said in str(error.value)


def test_start_without_what_speaks_to_a_store_says_what_to_fetch(tmp_path: Path) -> None:
    if find_spec("storages") is not None:
        pytest.skip("it is here")
    result = manage("check", data=tmp_path, KEPTLINES_PICTURES="s3://bucket/pictures")
    assert result.returncode == 1
    assert result.stderr.startswith("Keptlines: KEPTLINES_PICTURES names a store of objects")
    assert "-r .lock/objects.txt" in result.stderr
    assert "Traceback" not in result.stderr


def test_start_refuses_a_place_that_is_none(tmp_path: Path) -> None:
    result = manage("check", data=tmp_path, KEPTLINES_PICTURES="ftp://x/y")
    assert (result.returncode, result.stdout) == (1, "")
    assert result.stderr.startswith("Keptlines: KEPTLINES_PICTURES is 'ftp://x/y'")


def test_settings_load_nothing_of_a_store(tmp_path: Path) -> None:
    assert read(tmp_path, "MEDIA_ROOT") == {"MEDIA_ROOT": str(tmp_path / "media")}
    assert "storages" not in sys.modules
