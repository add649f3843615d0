"""The key that signs sheets: made, kept, changed, and given up as lost.

Its private half is the file `signing-keys/FINGERPRINT.pem` in the data folder (PKCS 8, mode 600).
It never enters the database, nor a copy of the book or an archive: whoever has it can sign in the
keeper's name. It is kept apart, as that one file copied to a place of its own, and brought back by
putting it there again. The public halves are rows of `SigningKey`, and stay for ever.
"""

from datetime import datetime
from pathlib import Path

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.db import transaction
from django.utils import timezone

from keeper.domain.book.writing import Refused, writing
from keeper.domain.sheets.signing import fingerprint, public_of
from keeper.models import Account, DaybookEntry, Ended, SigningKey
from keeper.serving.secrets import private_folder, write_private

_MISSING = (
    "The key that signs sheets is not in the data folder: {file} is missing or damaged. Put it "
    "back from where you keep it, or say on the page of keys that it is lost."
)


def folder() -> Path:
    """Return where the private halves are."""
    return Path(settings.DATA) / "signing-keys"


def file_of(key: SigningKey) -> Path:
    """Return where a key's private half is kept."""
    return folder() / f"{key.fingerprint}.pem"


def current() -> SigningKey | None:
    """Return the key that signs; None: none was needed yet."""
    found: SigningKey | None = SigningKey.objects.filter(ended_as="").first()
    return found


def is_at_hand(key: SigningKey) -> bool:
    """Whether a key's private half is in its place, and is that of this key."""
    return private_of(key) is not None


def private_of(key: SigningKey) -> Ed25519PrivateKey | None:
    """Return a key's private half; None where it is not at hand."""
    return _read(file_of(key))


def for_signing(at: datetime) -> tuple[SigningKey, Ed25519PrivateKey]:
    """Return the key that signs, made now if there is none; called inside `writing`.

    Raises:
        Refused: there is one and its private half is not at hand.
    """
    key = current()
    if key is None:
        private = next(iter(_unknown().values()), None) or _made()
        return _row(private, at), private
    found = private_of(key)
    if found is None:
        raise Refused(_MISSING.format(file=file_of(key)))
    return key, found


def change(*, by: Account, why: str) -> DaybookEntry:
    """Sign with another key from now on. What the old one signed stays good; its file is deleted.

    Raises:
        Refused: there is no key yet, or it is not at hand: then it may be lost, another act.
    """
    with writing(by=by, what="Changed the key that signs sheets", reason=why, of_records=False) as (
        book
    ):
        old = _current_or_refused()
        if not is_at_hand(old):
            raise Refused(_MISSING.format(file=file_of(old)))
        _replace(old, Ended.CHANGED, why, book.entry)
    return book.entry


def give_up(*, by: Account, why: str, in_other_hands: bool) -> DaybookEntry:
    """State that the key is lost, or that others may have it, and sign with another from now on.

    What it signed until now stays good; of a key in other hands it is said on every page of such a
    sheet that only what this book itself shows was issued here.

    Raises:
        Refused: there is no key yet.
    """
    ended = Ended.TAKEN if in_other_hands else Ended.LOST
    what = f"Stated the key that signs sheets as {ended.label}"
    with writing(by=by, what=what, reason=why, of_records=False) as book:
        _replace(_current_or_refused(), ended, why, book.entry)
    return book.entry


def take_up(*, by: Account) -> DaybookEntry:
    """Go on with a key of the data folder that the book does not know.

    So it is after an older copy of the book was restored: the key was changed since.

    Raises:
        Refused: there is none, or several, or the book's own key is at hand.
    """
    with writing(
        by=by, what="Took up the key that signs sheets from the data folder", of_records=False
    ) as book:
        old, found = _current_or_refused(), _unknown()
        if is_at_hand(old):
            raise Refused("The book's own key is in its place. Change it instead.")
        if len(found) != 1:
            raise Refused("There is no such key, or there are several. Say that the key is lost.")
        why = "The copy of the book that was restored is older than its key."
        _end(old, Ended.CHANGED, why, book.entry.at)
        _row(next(iter(found.values())), book.entry.at)
    return book.entry


def unknown_fingerprint() -> str:
    """Return the one key of the data folder that the book does not know; nothing if none is so."""
    found = list(_unknown())
    return found[0] if len(found) == 1 else ""


def _current_or_refused() -> SigningKey:
    key = current()
    if key is None:
        raise Refused("There is no key yet. Make one by issuing the first sheet.")
    return key


def _replace(old: SigningKey, ended: Ended, why: str, entry: DaybookEntry) -> None:
    _end(old, ended, why, entry.at)
    _row(_made(), entry.at)
    # Only once the new one is in the book for certain.
    transaction.on_commit(lambda: file_of(old).unlink(missing_ok=True))


def _end(key: SigningKey, ended: Ended, why: str, at: datetime) -> None:
    key.ended_as, key.ended_at, key.why = ended, at, why[:200]
    key.save(update_fields=["ended_as", "ended_at", "why"])


def _row(private: Ed25519PrivateKey, at: datetime) -> SigningKey:
    public = public_of(private)
    made: SigningKey = SigningKey.objects.create(
        public=public, fingerprint=fingerprint(public), since=at or timezone.now()
    )
    return made


def _made() -> Ed25519PrivateKey:
    """Make a key and write its file, which alone does no harm if the entry then fails."""
    private = Ed25519PrivateKey.generate()
    pem = private.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    place = private_folder(folder())
    write_private(place / f"{fingerprint(public_of(private))}.pem", pem)
    return private


def _read(path: Path) -> Ed25519PrivateKey | None:
    """Return the key in a file; None where there is none, or it is not the one that it is named."""
    try:
        private = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError, TypeError, UnsupportedAlgorithm):
        return None
    if not isinstance(private, Ed25519PrivateKey):
        return None
    return private if fingerprint(public_of(private)) == path.stem else None


def _unknown() -> dict[str, Ed25519PrivateKey]:
    """Keys of the data folder that no row tells of, by their fingerprints."""
    known = set(SigningKey.objects.values_list("fingerprint", flat=True))
    files = sorted(folder().glob("*.pem"))
    read = {path.stem: _read(path) for path in files if path.stem not in known}
    return {name: private for name, private in read.items() if private is not None}
