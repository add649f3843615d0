"""A process that brings in a table and stops at a named place until it is killed.

    python -m tests.keeper.imports.stopping [PLACE]

PLACE is a function, `module.name` below `keeper.domain.imports`; the process says "there" once that
was done. Without it what an ended process left is settled, the import's stage and problem are said,
it is brought in, and its stage is said again.
"""

import importlib
import os
import sys
import time
from typing import Any

TABLE = "Code,Sex,Hatched,Dam,Sire,Traits\nF-1,f,2018,,,het Saltgrass\nM-1,m,2018,,,Saltgrass\n"
YOUNG = 30


def main() -> None:
    """Set the stop, and go."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keeper.settings")
    import django

    django.setup()
    from django.conf import settings

    from keeper.domain.imports import running
    from keeper.models import Account, Import

    settings.WORK_IN_BACKGROUND = False
    one = Import.objects.first() or _begun()
    if len(sys.argv) > 1:
        _stop_at(sys.argv[1])
    else:
        running.settle()
        one.refresh_from_db()
        print(f"{one.stage}: {one.problem}", flush=True)  # noqa: T201
    running.start(one=one, version=one.version, by=Account.objects.get())
    one.refresh_from_db()
    print(f"{one.stage}: {one.problem}", flush=True)  # noqa: T201


def _begun() -> Any:
    from keeper.domain.accounts.writes import create_owner
    from keeper.models import Line, Locus, Species, Trait
    from tests.keeper.imports.tables import begun, picked

    owner = create_owner(name="Mara", password="a plain long password")
    species = Species.objects.create(name="royal python", sex_determination="XY")
    trait = Trait.objects.create(species=species, name="Saltgrass")
    locus = Locus.objects.create(species=species, name="saltgrass")
    Line.objects.create(trait=trait, locus=locus, code="HAR", name="Harvesk")
    young = [f"K-{n},u,2022-05-03,F-1,M-1,normal" for n in range(YOUNG)]
    return picked(begun(owner, TABLE + "\n".join(young)), species=species.pk)


def _stop_at(place: str) -> None:
    module, _, name = place.partition(".")
    where: Any = importlib.import_module(f"keeper.domain.imports.{module}")
    *path, name = name.split(".")
    for one in path:
        where = getattr(where, one)
    does = getattr(where, name)

    def stop(*arguments: Any, **named: Any) -> Any:
        done = does(*arguments, **named)
        print("there", flush=True)  # noqa: T201
        time.sleep(600)
        return done

    setattr(where, name, stop)


if __name__ == "__main__":
    main()
