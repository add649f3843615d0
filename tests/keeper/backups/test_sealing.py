"""A file encrypted with a passphrase: what opens it, and what is noticed."""

from pathlib import Path

import pytest

from keeper.domain.backups import sealing
from keeper.domain.backups.troubles import Damaged, TooNew, WrongPassphrase

SECRET = "seven plain wörds in a row"


@pytest.fixture(autouse=True)
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealing, "CHUNK", 64)


def sealed(folder: Path, content: bytes) -> Path:
    plain = folder / "plain"
    plain.write_bytes(content)
    sealing.seal(plain, folder / "sealed", SECRET, cost=2)
    return folder / "sealed"


def opened(path: Path, secret: str = SECRET) -> bytes:
    sealing.unseal(path, path.with_name("opened"), secret)
    return path.with_name("opened").read_bytes()


@pytest.mark.parametrize("length", [0, 1, 63, 64, 65, 128, 1000])
def test_a_file_comes_back_as_it_was(tmp_path: Path, length: int) -> None:
    content = bytes(number % 251 for number in range(length))
    path = sealed(tmp_path, content)
    assert sealing.is_sealed(path)
    assert opened(path) == content
    assert content[:40] not in path.read_bytes() or length < 40


def test_the_same_file_is_never_encrypted_the_same_way(tmp_path: Path) -> None:
    first = sealed(tmp_path, b"a" * 100).read_bytes()
    assert sealed(tmp_path, b"a" * 100).read_bytes()[19:] != first[19:]


def test_letters_are_taken_however_they_are_composed(tmp_path: Path) -> None:
    assert opened(sealed(tmp_path, b"x"), SECRET.replace("ö", "o\u0308")) == b"x"


def test_a_wrong_passphrase_is_told_from_damage(tmp_path: Path) -> None:
    path = sealed(tmp_path, b"a" * 300)
    with pytest.raises(WrongPassphrase):
        opened(path, "seven other words in a row")
    whole = path.read_bytes()
    path.write_bytes(whole[:-20] + b"?" + whole[-19:])
    with pytest.raises(Damaged, match="changed or cut short"):
        opened(path)


def test_every_single_changed_byte_is_noticed(tmp_path: Path) -> None:
    path = sealed(tmp_path, b"a" * 150)
    whole = path.read_bytes()
    for at in range(len(whole)):
        # The log of the cost is kept small: that a greater one is refused is tested apart.
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        with pytest.raises((Damaged, WrongPassphrase, TooNew)):
            opened(path)


def test_every_cut_and_every_addition_is_noticed(tmp_path: Path) -> None:
    path = sealed(tmp_path, b"a" * 150)
    whole = path.read_bytes()
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        with pytest.raises((Damaged, WrongPassphrase)):
            opened(path)
    path.write_bytes(whole + b"a")
    with pytest.raises(Damaged):
        opened(path)


def test_chunks_that_are_moved_or_left_out_are_noticed(tmp_path: Path) -> None:
    path = sealed(tmp_path, bytes(range(200)))
    whole = path.read_bytes()
    head, size = len(whole) - 200 - 4 * 16, 64 + 16
    chunks = [whole[head + size * number : head + size * (number + 1)] for number in range(4)]
    for order in ([1, 0, 2, 3], [0, 2, 3], [0, 1, 2], [0, 1, 1, 2, 3], [3]):
        path.write_bytes(whole[:head] + b"".join(chunks[number] for number in order))
        with pytest.raises(Damaged):
            opened(path)


def test_a_cost_that_no_copy_of_ours_has_is_refused(tmp_path: Path) -> None:
    path = sealed(tmp_path, b"a")
    whole = bytearray(path.read_bytes())
    whole[len(sealing.MAGIC) + 16] = 60
    path.write_bytes(whole)
    with pytest.raises(Damaged, match="first bytes"):
        opened(path)


def test_a_later_format_is_refused_in_words(tmp_path: Path) -> None:
    path = tmp_path / "later"
    path.write_bytes(b"KEPTLINES SEALED 2\n" + b"x" * 100)
    with pytest.raises(TooNew, match="Start that version"):
        opened(path)
