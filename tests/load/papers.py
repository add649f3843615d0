"""Altered papers and reports by the thousand: `python -m tests.load.papers --count 10000`.

Each is a signed file with a byte changed, left out, put in or said twice, or cut off; a key or a
signature altered; or a record changed and signed by somebody else. None may be taken.
"""

import argparse
import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

WAYS = ("anywhere", "signed", "signature", "key", "another key")


def alterations(
    file: bytes, take: Callable[[bytes], Any], *, count: int, seed: int = 1
) -> list[bytes]:
    """Alter a file so often, and return what was taken that should not have been."""
    from keeper.domain.book.writing import Refused
    from tests.keeper.sheets.test_signing import altered

    draw, passed = random.Random(seed), []
    for number in range(count):
        way = WAYS[number % len(WAYS)]
        other = _by_another(file, draw) if way == "another key" else _one(file, way, draw, altered)
        if other == file:
            continue
        try:
            take(other)
        except Refused:
            continue
        passed.append(other)
    return passed


def _one(
    file: bytes, way: str, draw: random.Random, altered: Callable[[random.Random, bytes], bytes]
) -> bytes:
    if way == "anywhere":
        return altered(draw, file)
    told = json.loads(file)
    part = altered(draw, told[way].encode()).decode("utf-8", errors="replace")
    return json.dumps(told | {way: part}, ensure_ascii=False, indent=1).encode()


def _by_another(file: bytes, draw: random.Random) -> bytes:
    """The record as it is, signed by somebody else; it still names the key that it is not."""
    from keeper.domain.sheets.signing import public_of
    from keeper.domain.travel.files import written

    private = Ed25519PrivateKey.from_private_bytes(draw.randbytes(32))
    signed = json.loads(file)["signed"].encode()
    return written(signed, private.sign(signed), public_of(private))


def main() -> None:
    """Alter the files that are named."""
    import django

    django.setup()
    from keeper.domain.lines import reports
    from keeper.domain.travel import files

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="+", type=Path, help="signed papers and reports of crosses")
    parser.add_argument("--count", type=int, default=10_000)
    given = parser.parse_args()
    for path in given.files:
        file = path.read_bytes()
        is_report = reports.CROSSES in json.loads(file)["signed"]
        take = reports.opened if is_report else files.opened
        take(file)
        passed = alterations(file, take, count=given.count)
        print(f"{path.name}: {given.count} altered, {len(passed)} taken")


if __name__ == "__main__":
    main()
