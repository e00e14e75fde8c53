"""What is written by hand on a sheet, as a person typed it, sealed."""

import django.db.models.deletion
from django.db import migrations, models

import sidelong.clinic.sealed_columns


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (("sheets", "0002_spare_and_parts"),)

    operations = (
        migrations.CreateModel(
            name="NoteSaid",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("area", models.CharField(max_length=40, verbose_name="for example note.0")),
                (
                    "name",
                    models.CharField(
                        max_length=32, unique=True, verbose_name="what the sealed text is bound to"
                    ),
                ),
                (
                    "text",
                    sidelong.clinic.sealed_columns.SealedField(
                        verbose_name="sealed; nothing where it was taken back"
                    ),
                ),
                ("is_taken_back", models.BooleanField(default=False)),
                ("at", models.DateTimeField()),
                ("by", models.CharField(max_length=80, verbose_name="audit key of who typed it")),
                (
                    "sheet",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notes_said",
                        to="sheets.readingrow",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
    )
