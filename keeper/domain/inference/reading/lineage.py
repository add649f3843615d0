"""Who descends from whom, by the rows."""

from keeper.domain.inference.reading.rows import Rows


def ancestors(rows: Rows, animal: int) -> set[int]:
    """All who may be ancestors of an animal; say first whose will be asked (`with_ancestors`)."""
    found, ahead = set[int](), [animal]
    while ahead:
        above = rows.parents(rows.animals[ahead.pop()]) - found
        found |= above
        ahead += above
    return found
