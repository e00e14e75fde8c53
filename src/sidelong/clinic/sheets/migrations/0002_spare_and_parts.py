"""Which page of the large print a sheet is, in which order it asks, and what a spare one is for."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (("sheets", "0001_initial"),)

    operations = (
        migrations.AddField(
            model_name="readingrow",
            name="part",
            field=models.PositiveSmallIntegerField(
                default=0, verbose_name="1 or 2 for a page of the large print"
            ),
        ),
        migrations.AddField(
            model_name="readingrow",
            name="order",
            field=models.JSONField(
                default=list, verbose_name="positions of its slots; none: as the plan has them"
            ),
        ),
        migrations.CreateModel(
            name="SpareNight",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "night",
                    models.PositiveSmallIntegerField(null=True, verbose_name="none: taken back"),
                ),
                ("at", models.DateTimeField()),
                ("by", models.CharField(max_length=80, verbose_name="audit key of who looked")),
                (
                    "sheet",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stands_for",
                        to="sheets.readingrow",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
    )
