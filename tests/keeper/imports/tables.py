"""Tables for tests: a small herd as a keeper may have written it, and how it is brought in."""

from dataclasses import replace
from typing import Any

from keeper.domain.imports import changing
from keeper.domain.imports.checking import checked
from keeper.domain.imports.choices import Choices, choices_of
from keeper.domain.imports.rows import Checked
from keeper.models import Account, Import

HERD = """\
Code,Name,Sex,Hatched,Dam,Sire,Traits,From,Weight,Rack
K-2,,0.1,03/05/2022,F-1,M-1,normal,,120 g,
K-1,Ebb,1.0,03/05/2022,F-1,M-1,Saltgrass,,130,
F-1,Neap,0.1,14/06/2018,,,100% het Saltgrass (HAR),Ansel of Pelnaw,1500,R1
M-1,Skerry,1.0,2017,,,66% poss het Saltgrass,ansel of pelnaw,900,R2
M-2,Dulse,1.0,,,,visual Saltgrass HAR,Bryony,,
F-2,Samphire,?,,,,"DH Saltgrass, Thrift",,,
J-1,,u,21/08/2024,Samphire,Dulse,66% poss het Saltgrass,,,
J-2,,u,21/08/2024,Samphire,Dulse,Saltgrass,,,
J-3,,u,22/08/2024,Samphire,,normal,,,
X-1,,0.1,,F-1,M-2,,,,
X-2,,f,2020,,,normal,,,
X-3,,m,2020,,,no Saltgrass,,,
"""


def begun(by: Account, text: str | bytes, name: str = "herd.csv") -> Import:
    """An import of a table of plain text, its columns as they were guessed."""
    data = text.encode() if isinstance(text, str) else text
    return changing.begin(name=name, data=data, by=by)


def picked(one: Import, picks: dict[int, str] | None = None, **chosen: Any) -> Import:
    """The import with its columns picked: as guessed, but for those named."""
    one.refresh_from_db()
    means = [(picks or {}).get(n, pick) for n, pick in enumerate(one.picks)]
    choices: Choices = replace(choices_of(one), **chosen)
    changing.pick(one=one, picks=means, choices=choices, version=one.version)
    one.refresh_from_db()
    return one


def tried(one: Import) -> Checked:
    """The dry run as it is now."""
    one.refresh_from_db()
    return checked(one)


def rows_of(one: Import) -> dict[str, Any]:
    """The rows of the dry run by their codes."""
    return {row.code: row for row in tried(one).rows}


def table(*rows: str) -> str:
    """A table of plain text, a row a line."""
    return "\n".join(rows) + "\n"
