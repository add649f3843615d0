"""What each earlier version left, in one book that was brought up to date step by step."""

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.apps import apps
from django.contrib.contenttypes.models import ContentType
from django.core.management.color import no_style
from django.db import DEFAULT_DB_ALIAS, connection, connections, transaction
from django.db.migrations.state import ProjectState
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from tests.factories import AccountFactory
from tests.keeper.upgrades import then
from tests.keeper.upgrades.older import step_by_step
from tests.keeper.upgrades.then import FIRST, Rows
from tests.keeper.world import DAY, World

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker


class Left(dict[int, Rows]):
    """What each version left in the book, by the number of its migration.

    And how the tables are built by now, and how those of a new book are.
    """

    grown: list[tuple[Any, ...]]
    new: list[tuple[Any, ...]]


# Columns that a version knew and this one does not; a test of its own says what became of them.
_MOVED = {("keeper_daybookentry", "undoes_id")}


@pytest.fixture(scope="module")
def upgraded(
    django_db_setup: None,
    django_db_blocker: "DjangoDbBlocker",
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Left]:
    """A book walked up through every migration, each of which found what the one before left."""
    folder = tmp_path_factory.mktemp("upgraded")
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=folder):
        with transaction.atomic():
            _fill(AccountFactory.create(name="Mara", role="owner"))
            rows, kinds = then.rows_now(), list(ContentType.objects.values())
            transaction.set_rollback(True)
        new = _built()
        with _database_of_its_own(folder):
            left = _walked(rows, kinds)
            left.new = new
            ContentType.objects.clear_cache()
            yield left
        ContentType.objects.clear_cache()


def _fill(owner: m.Account) -> None:
    """Write a book of one of everything, in which things were done and undone."""
    world = World(owner, 3)
    for _ in range(12):
        world.act()
    world.young()
    animal, trait = m.Animal.objects.live()[0], m.Trait.objects.live()[0]
    with writing(by=owner, what="What a book of one of everything lacks") as book:
        book.keep(m.Look(animal=animal, on=DAY, by=owner))
        book.keep(m.Told(sheet=m.Sheet.objects.all()[0], how="call", said=[{}], upto=book.entry))
        signer = book.keep(m.Contact(name="A signer"))
        paper = m.SignedPaper(source=signer, animal=animal, brings="animal", on=DAY)
        paper.digest = "3" * 64
        book.keep(paper)
        book.keep(m.BaseRate(mishap="look", chance="1/200", ground="counted"))
        hiding = m.Trait(species=world.book.species, name="Squall", shown="single")
        book.keep(hiding, hides=[world.dun.trait])
        book.keep(m.Shed(animal=animal, on=DAY, came="whole"))
        book.keep(m.Cleaning(animal=animal, on=DAY, what="spot"))
        book.keep(m.HealthNote(animal=animal, on=DAY, text="Sneezed once."))
        book.keep(m.Treatment(animal=animal, on=DAY, what="Warmer by two degrees"))
    m.Surprise.objects.create(
        species=world.book.species, animal=animal, trait=trait, text="unlikely", chance=0.01,
        entry=book.entry,
    )  # fmt: skip
    # What was acted at random may have left none; a recompute puts it right.
    m.Shows.objects.update_or_create(
        animal=animal, look=m.NamedLook.objects.all()[0],
        defaults={"chance": 0.5, "entry": book.entry},
    )  # fmt: skip
    now = timezone.now()
    m.CalendarFeed.objects.create(account=owner, digest="2" * 64)
    m.SavedView.objects.create(account=owner, name="Females", query="sex=female")
    m.SecondFactor.objects.create(account=owner, secret="sealed")
    m.RecoveryCode.objects.create(account=owner, digest="0" * 64)
    m.Passkey.objects.create(
        account=owner, name="phone", host="book.local", credential="c", public="p", handle="h"
    )
    m.LogIn.objects.create(session_key="k" * 30, session_data="", expire_date=now, account=owner)
    m.Job.objects.create(kind="copy", state="done")
    m.Invitation.objects.create(
        digest="1" * 64, made_by=owner, role="helper", ends_at=now + timedelta(days=1)
    )


@contextmanager
def _database_of_its_own(folder: Path) -> Iterator[None]:
    """Point Django at an empty database for a while."""
    ours = connections[DEFAULT_DB_ALIAS]
    if ours.vendor == "sqlite":
        name = str(folder / "book.sqlite3")
    else:
        name = f"{ours.settings_dict['NAME']}_upgraded"
        with ours._nodb_cursor() as cursor:
            cursor.execute(f'DROP DATABASE IF EXISTS "{name}"')
            cursor.execute(f'CREATE DATABASE "{name}" TEMPLATE template0')
    other = type(ours)({**ours.settings_dict, "NAME": name})
    connections[DEFAULT_DB_ALIAS] = other
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = ours
        other.close()
        if ours.vendor != "sqlite":
            with ours._nodb_cursor() as cursor:
                cursor.execute(f'DROP DATABASE "{name}"')


def _walked(rows: Rows, kinds: Sequence[Mapping[str, Any]]) -> Left:
    executor = step_by_step()
    executor.recorder.ensure_schema()
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    state = ProjectState(real_apps=executor.loader.unmigrated_apps)
    left = Left()
    for migration, _ in plan:
        state = executor.apply_migration(state, migration)
        layer = int(migration.name[:4])
        if migration.app_label != then.APP or layer < FIRST:
            continue
        if not left:
            ContentType.objects.bulk_create(ContentType(**kind) for kind in kinds)
        left[layer] = then.laid_in(state.apps, rows, layer)
    with connection.cursor() as cursor:
        for line in connection.ops.sequence_reset_sql(no_style(), apps.get_models()):
            cursor.execute(line)
    left.grown = _built()
    return left


_ASKED = {
    "sqlite": ("SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite%'",),
    "postgresql": (
        "SELECT table_name, column_name, udt_name, character_maximum_length, is_nullable, "
        "column_default FROM information_schema.columns WHERE table_schema = 'public'",
        # Names that Django makes differ there by the way that a constraint came; see SQLite's.
        "SELECT conrelid::regclass::text, pg_get_constraintdef(oid) FROM pg_constraint "
        "WHERE connamespace = 'public'::regnamespace",
        "SELECT substring(indexdef from ' ON .*') FROM pg_indexes WHERE schemaname = 'public'",
    ),
}


def _built() -> list[tuple[Any, ...]]:
    """How every table is built, whatever the order of its columns."""
    found = []
    with connection.cursor() as cursor:
        for asked in _ASKED[connection.vendor]:
            cursor.execute(asked)
            found += [tuple(map(_unordered, row)) for row in cursor.fetchall()]
    return sorted(found, key=str)


# Of one condition PostgreSQL says now this, now that many casts and brackets.
_CASTS = re.compile(r"::(character varying|text)|[\[\]()]")


def _unordered(said: Any) -> Any:
    if connection.vendor == "postgresql":
        return _CASTS.sub("", str(said))
    body = str(said).removeprefix("CREATE TABLE ")
    return tuple(sorted(body.rstrip(")").split(", "))) if body != str(said) else said


def _here(layer: int, model: Any) -> Any:
    """The rows that a version left, as they are now."""
    return model._base_manager.filter(
        pk__gt=layer * then.APART, pk__lt=(layer + 1) * then.APART
    ).order_by("pk")


def test_every_version_had_rows_in_each_of_its_tables(upgraded: Left) -> None:
    versions = {name for app, name in _all_migrations() if app == then.APP}
    assert len(upgraded) == len(versions) - 1  # the first had accounts alone
    for layer, rows in upgraded.items():
        assert [table for table, found in rows.items() if not found] == [], layer
    tables = {model._meta.db_table for model in then.models_now()}
    assert upgraded[max(upgraded)].keys() == tables


def _all_migrations() -> Any:
    return step_by_step().loader.graph.nodes


def test_nothing_is_lost(upgraded: Left) -> None:
    models = {model._meta.db_table: model for model in then.models_now()}
    for layer, rows in upgraded.items():
        for table, before in rows.items():
            after = then.rows_of(models[table], layer)
            kept = [
                {name: value for name, value in row.items() if (table, name) not in _MOVED}
                for row in before
            ]
            told = zip(kept, after, strict=True)
            assert [{name: now[name] for name in was} for was, now in told] == kept, (layer, table)
    connection.check_constraints()


def test_a_new_book_is_built_in_one_step_as_one_that_grew(upgraded: Left) -> None:
    assert len(upgraded.new) > 200
    assert upgraded.new == upgraded.grown


def test_what_undid_what_is_known_the_other_way_round(upgraded: Left) -> None:
    seen = 0
    for rows in upgraded.values():
        for entry in rows["keeper_daybookentry"]:
            if undone := entry.get("undoes_id"):
                assert m.DaybookEntry.objects.get(pk=undone).undone_by_id == entry["id"]
                seen += 1
    assert seen >= 3  # of each version before it was turned round


def test_animals_and_clutches_of_before_have_an_identity_each(upgraded: Left) -> None:
    for model in (m.Animal, m.Clutch):
        of = list(model.objects.values_list("identity", flat=True))
        assert None not in of
        assert len(of) == len(set(of))
        for row in model.history.exclude(id=None).values("id", "identity"):
            own = model.objects.filter(pk=row["id"]).values_list("identity", flat=True)
            assert list(own) in ([row["identity"]], [])


def test_pages_open_and_a_recompute_answers(upgraded: Left) -> None:
    with transaction.atomic():
        with writing(by=None, what="Recomputed the whole book", of_records=False) as book:
            inference.recompute(entry=book.entry)
        assert inference.differences() == []
        client = Client()
        owner = m.Account.objects.get(role="owner")
        client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
        opened = [
            *map(reverse, ("home", "animals", "clutches", "projects", "register", "daybook")),
            *(
                one
                for layer in upgraded
                for one in _addresses(layer, (min(upgraded), max(upgraded)))
            ),
        ]
        assert {one: client.get(one).status_code for one in opened} == dict.fromkeys(opened, 200)
        transaction.set_rollback(True)


def _addresses(layer: int, ends: tuple[int, int]) -> Iterator[str]:
    """A page that tells of what a version left, another kind each version; of the ends all."""
    kinds = (
        ("animals-one", m.Animal),
        ("clutches-one", m.Clutch),
        ("projects-one", m.Project),
        ("sheets-one", m.Sheet),
        ("daybook-entry", m.DaybookEntry),
        ("home-disputes-one", m.Dispute),
        ("register-species", m.Species),
    )
    for name, model in kinds if layer in ends else [kinds[layer % len(kinds)]]:
        yield reverse(name, args=[_here(layer, model).last().pk])


def test_the_book_goes_on(upgraded: Left) -> None:
    owner = m.Account.objects.get(role="owner")
    with transaction.atomic():
        for layer in upgraded:
            dam = _here(layer, m.Animal).filter(sex="female", withdrawn_at=None).first()
            with writing(by=owner, what="Hatched") as book:
                animal = m.Animal(species=dam.species, code=f"new-{layer}", dam=dam)
                book.keep(animal)
            assert book.entry.touches.count() == 1
        transaction.set_rollback(True)
