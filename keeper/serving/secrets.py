"""The data folder and the secret key in it; standard library only."""

import os
import secrets
from pathlib import Path


class NoKey(Exception):
    """The file of the secret key holds none; the message says what to do."""


def private_folder(path: Path) -> Path:
    """Make a folder that only this account may open; one of ours that others may open is closed.

    A folder that holds no book of ours is left as it is.
    """
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    if (path / "secret-key").exists() and os.name == "posix" and path.stat().st_mode & 0o077:
        path.chmod(path.stat().st_mode & ~0o077)
    return path


def write_private(path: Path, content: bytes) -> None:
    """Replace a file by one that only this account may read, never leaving half of it."""
    fresh = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)


def secret_key(folder: Path) -> str:
    """Return the key that signs sessions, made on the first run.

    Raises:
        NoKey: the file is there and empty, as after a full disk.
    """
    path = folder / "secret-key"
    if not path.exists():
        write_private(path, secrets.token_urlsafe(50).encode("ascii"))
    key = path.read_text(encoding="ascii").strip()
    if not key:
        raise NoKey(
            f"{path} is empty, though a key was written there once. Put it back from a copy, or "
            "delete the file: then a new one is made, and everybody logs in again."
        )
    return key
