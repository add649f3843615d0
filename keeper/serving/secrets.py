"""The data folder and the secret key in it; standard library only."""

import os
import secrets
from pathlib import Path


def private_folder(path: Path) -> Path:
    """Make a folder that only this account may open, unless it is there already."""
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
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
    """Return the key that signs sessions, made on the first run."""
    path = folder / "secret-key"
    if not path.exists():
        write_private(path, secrets.token_urlsafe(50).encode("ascii"))
    return path.read_text(encoding="ascii").strip()
