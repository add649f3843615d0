"""The book gets its one row, and sheets a series of numbers."""

from django.db import migrations, models

import keeper.models.daybook


def begin(apps, schema_editor):
    """Give the book its first epoch."""
    apps.get_model("keeper", "Book").objects.using(schema_editor.connection.alias).create(
        pk=1, epoch=keeper.models.daybook.new_epoch()
    )


def nothing(apps, schema_editor):
    """Going back needs no work of its own."""


class Migration(migrations.Migration):
    # Its program makes the one row of a new table.
    changes_rows = False
    dependencies = [("keeper", "0015_plans")]

    operations = [
        migrations.CreateModel(
            name="Book",
            fields=[
                (
                    "id",
                    models.PositiveSmallIntegerField(
                        default=1, editable=False, primary_key=True, serialize=False
                    ),
                ),
                (
                    "epoch",
                    models.CharField(
                        default=keeper.models.daybook.new_epoch, editable=False, max_length=32
                    ),
                ),
                ("restored_at", models.DateTimeField(editable=False, null=True)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="book_once")
                ]
            },
        ),
        migrations.RunPython(begin, nothing),
        migrations.AlterModelOptions(name="sheet", options={"ordering": ["-number", "-pk"]}),
        migrations.AddField(
            "historicalsheet",
            "series",
            models.CharField(blank=True, default="", editable=False, max_length=8),
            preserve_default=False,
        ),
        migrations.AddField(
            "sheet",
            "series",
            models.CharField(blank=True, default="", editable=False, max_length=8),
            preserve_default=False,
        ),
        migrations.AlterField("historicalsheet", "number", models.PositiveIntegerField()),
        migrations.AlterField("sheet", "number", models.PositiveIntegerField()),
        migrations.AddConstraint(
            "sheet",
            models.UniqueConstraint(fields=("series", "number"), name="sheet_number_once"),
        ),
    ]
