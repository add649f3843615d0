"""One entry may undo several; a form is written once; animals and clutches keep an identity."""

from uuid import uuid4

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

_AT_ONCE = 2000


def who_undid_whom(apps, schema_editor):
    """Turn "this entry undoes that one" round."""
    entries = apps.get_model("keeper", "DaybookEntry").objects
    for pk, undone in entries.exclude(undid=None).values_list("pk", "undid"):
        entries.filter(pk=undone).update(undone_by=pk)
    if schema_editor.connection.vendor == "postgresql":
        # The tables are altered in this transaction: no check may be pending then.
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        schema_editor.execute("SET CONSTRAINTS ALL DEFERRED")


def give_identities(apps, schema_editor):
    """Give every animal and clutch an identity, and every save of it the same."""
    for name in ("Animal", "Clutch"):
        model = apps.get_model("keeper", name)
        rows = []
        for row in model._base_manager.only("pk").iterator(chunk_size=_AT_ONCE):
            row.identity = uuid4()
            rows.append(row)
        model._base_manager.bulk_update(rows, ["identity"], batch_size=500)
        own = model._base_manager.filter(pk=OuterRef("id")).values("identity")
        apps.get_model("keeper", f"Historical{name}").objects.update(
            identity=Coalesce(Subquery(own), Value(uuid4(), models.UUIDField()))
        )


def nothing(apps, schema_editor):
    """Going back needs no work of its own."""


def identity(**more):
    return models.UUIDField(default=uuid4, editable=False, **more)


class Migration(migrations.Migration):
    dependencies = [("keeper", "0004_change_by_entry")]

    operations = [
        migrations.RenameField("daybookentry", "undoes", "undid"),
        migrations.AlterField(
            "daybookentry",
            "undid",
            models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="keeper.daybookentry",
            ),
        ),
        migrations.AddField(
            "daybookentry",
            "undone_by",
            models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="undoes",
                to="keeper.daybookentry",
            ),
        ),
        migrations.RunPython(who_undid_whom, nothing),
        migrations.RemoveField("daybookentry", "undid"),
        migrations.AddField(
            "daybookentry",
            "token",
            models.CharField(editable=False, max_length=32, null=True, unique=True),
        ),
        *(
            migrations.AddField(
                model, "identity", models.UUIDField(default=None, editable=False, null=True)
            )
            for model in ("animal", "clutch", "historicalanimal", "historicalclutch")
        ),
        migrations.RunPython(give_identities, nothing),
        *(
            migrations.AlterField(model, "identity", identity(unique=True))
            for model in ("animal", "clutch")
        ),
        *(
            migrations.AlterField(model, "identity", identity(db_index=True))
            for model in ("historicalanimal", "historicalclutch")
        ),
    ]
