"""An import's table as it is now: its heads, what the columns mean, and its rows as mended."""

from collections.abc import Iterator
from dataclasses import dataclass

from keeper.domain.imports.rows import Row
from keeper.domain.imports.tables import heads
from keeper.domain.imports.tables.meanings import Meaning, guessed
from keeper.models import Import, Stage, Trait

# From so many imports before it is remembered what a head was picked for.
_REMEMBERED = 30


@dataclass
class Table:
    """Heads, meanings, and the rows below the heads with something in them."""

    heads: list[str]
    meanings: list[Meaning]
    rows: list[Row]

    def cells(self, *meanings: Meaning) -> Iterator[str]:
        """Every cell of the columns of these meanings, empty ones left out."""
        columns = self.columns(*meanings)
        for row in self.rows:
            yield from (row.cells[column] for column in columns if row.cells[column])

    def columns(self, *meanings: Meaning) -> list[int]:
        """The columns of these meanings."""
        return [n for n, one in enumerate(self.meanings) if one in meanings]


def table_of(one: Import) -> Table:
    """Return an import's table."""
    first = one.head_row + one.head_rows if one.head_row else 1
    out = set(one.left_out)
    rows = []
    for number, cells in enumerate(one.rows(), 1):
        if number < first or not any(cells):
            continue
        for column, text in one.mended.get(str(number), {}).items():
            if int(column) < len(cells):
                cells[int(column)] = text
        rows.append(Row(number, cells, is_out=number in out))
    return Table(list(one.heads), [Meaning(pick) for pick in one.picks], rows)


def take_heads(one: Import, first: int | None = None, count: int = 1) -> None:
    """Find the heads, or take those of these rows, and guess what the columns mean."""
    rows = one.rows()
    if first is None:
        one.head_row, one.head_rows = heads.find(rows)
    else:
        one.head_row, one.head_rows = min(first, len(rows)), count if first else 0
    one.heads = heads.read(rows, one.head_row, one.head_rows)
    names = Trait.objects.live().values_list("name", flat=True)
    one.picks = [str(pick) for pick in guessed(one.heads, remembered(), names)]


def remembered() -> dict[str, str]:
    """Return what heads were picked for in imports that were brought in, the latest counting."""
    from keeper.domain.imports.tables.meanings import key_of

    found: dict[str, str] = {}
    done = Import.objects.filter(stage=Stage.DONE).order_by("-pk")[:_REMEMBERED]
    for named, picks in done.values_list("heads", "picks"):
        for head, pick in zip(named, picks, strict=False):
            if not head.startswith("Column "):
                found.setdefault(key_of(head), pick)
    return found
