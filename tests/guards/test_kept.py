"""Nothing of a book is forgotten: what is done with each table is said, or why nothing is.

For every model one of each kind of keeping: in the archive and in its reading, in a backup, in an
erasure. A new model fails here until somebody has decided. What is kept as a copy of the whole
database (a backup) has every table by nature, and says so where it is made; what is decided model
by model is registered in `DECIDED`: erasure joins there, with the columns that may name a person.
"""

from collections.abc import Callable, Collection

import pytest
from django.apps import apps
from django.db.models import Model

from keeper.domain.archives import tables, values, words
from keeper.domain.archives.inside import may_be_filled
from keeper.domain.archives.tables import IN_AN_EMPTY_BOOK, LEFT_OUT_COLUMNS, LEFT_OUT_TABLES
from keeper.domain.erasure import columns


def labels(models: Collection[type[Model]]) -> set[str]:
    return {model._meta.label for model in models}


def in_archives() -> set[str]:
    """Models in an archive, which is read back table by table from the same list."""
    return labels([table.model for table in tables.tables()]) | set(LEFT_OUT_TABLES)


# Kind of keeping → every model that somebody has decided about, for or against with a reason.
DECIDED: dict[str, Callable[[], set[str]]] = {
    "archive": in_archives,
    "erasure": columns.decided,
}


@pytest.mark.parametrize("kept_in", DECIDED)
def test_every_model_is_kept_or_left_out_with_a_reason(kept_in: str) -> None:
    everything = labels(apps.get_models(include_auto_created=True))
    assert len(everything) > 60
    assert DECIDED[kept_in]() == everything


def test_nothing_of_ours_is_left_out_of_the_archive_but_secrets_and_which_book_it_is() -> None:
    assert {name for name in LEFT_OUT_TABLES if name.startswith("keeper.")} == {
        "keeper.Book",
        *("keeper.LogIn", "keeper.SecondFactor", "keeper.RecoveryCode", "keeper.Invitation"),
        "keeper.CalendarFeed",
        "keeper.Passkey",
        "keeper.StockPage",
        "keeper.Job",
    }


def test_what_is_left_out_has_a_reason_and_exists() -> None:
    everything = labels(apps.get_models(include_auto_created=True))
    assert set(LEFT_OUT_TABLES) | set(IN_AN_EMPTY_BOOK) <= everything
    for model, column in LEFT_OUT_COLUMNS:
        assert apps.get_model(model)._meta.get_field(column)
    reasons = [*LEFT_OUT_TABLES.values(), *LEFT_OUT_COLUMNS.values(), *IN_AN_EMPTY_BOOK.values()]
    assert [one for one in reasons if len(one.split()) < 3] == []


@pytest.mark.parametrize("table", tables.tables(), ids=lambda table: table.name)
def test_every_column_has_a_type_and_words(table: tables.Table) -> None:
    assert len(words.of_table(table)) > 10
    assert not words.of_table(table).startswith(f"{table.model.__name__}(")
    for field in table.columns:
        assert values.kind_of(field)
    assert [field.name for field in table.columns if not words.of_column(table, field)] == []


def test_columns_left_out_are_filled_in_by_the_reading() -> None:
    assert {
        (table.model._meta.label, field.name)
        for table in tables.tables()
        for field in table.left_out
    } == set(LEFT_OUT_COLUMNS)
    # What has no value of its own is given one by name in `opening`.
    assert {
        name
        for (model, name) in LEFT_OUT_COLUMNS
        if not may_be_filled(apps.get_model(model)._meta.get_field(name))
    } == {"password"}
