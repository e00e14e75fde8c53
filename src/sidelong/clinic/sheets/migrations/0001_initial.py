"""Photographs of sheets, what was read, what a person said, what was kept."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    initial = True

    dependencies = (
        ("practice", "0004_fits"),
        ("trainees", "0002_way"),
    )

    operations = (
        migrations.CreateModel(
            name="PhotoRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        max_length=32, unique=True, verbose_name="name of the sealed file"
                    ),
                ),
                (
                    "digest",
                    models.CharField(max_length=64, verbose_name="SHA-256 of the washed pixels"),
                ),
                ("received", models.DateTimeField()),
                (
                    "received_by",
                    models.CharField(max_length=80, verbose_name="audit key of who sent it in"),
                ),
                (
                    "removed",
                    models.DateTimeField(null=True, verbose_name="when its pixels were deleted"),
                ),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="sheet_photos",
                        to="trainees.course",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.CreateModel(
            name="ReadingRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("page_id", models.CharField(max_length=80)),
                (
                    "is_sure",
                    models.BooleanField(
                        verbose_name="tags and code leave no doubt which page it is"
                    ),
                ),
                ("plan_version", models.PositiveSmallIntegerField()),
                (
                    "night",
                    models.PositiveSmallIntegerField(
                        null=True, verbose_name="number of the sheet; none on a spare one"
                    ),
                ),
                (
                    "print_scale",
                    models.FloatField(null=True, verbose_name="printed over true length"),
                ),
                ("fields", models.JSONField(verbose_name="value, confidence, accepted by field")),
                (
                    "boxes",
                    models.JSONField(
                        verbose_name="left, top, width, height by field and write-in area, mm"
                    ),
                ),
                ("program", models.CharField(max_length=40, verbose_name="version that read it")),
                ("read", models.DateTimeField()),
                (
                    "photo",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="sheets",
                        to="sheets.photorow",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.CreateModel(
            name="AnswerSaid",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("field", models.CharField(max_length=40)),
                (
                    "value",
                    models.CharField(
                        blank=True, max_length=40, verbose_name="empty for nothing marked"
                    ),
                ),
                ("is_taken_back", models.BooleanField(default=False)),
                ("at", models.DateTimeField()),
                ("by", models.CharField(max_length=80, verbose_name="audit key of who looked")),
                (
                    "sheet",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="said",
                        to="sheets.readingrow",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.CreateModel(
            name="SheetKept",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "outcome",
                    models.CharField(max_length=12, verbose_name="kept, compared or set aside"),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.CharField(max_length=80, verbose_name="audit key of who confirmed it"),
                ),
                (
                    "entry",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="from_sheets",
                        to="practice.nightentry",
                    ),
                ),
                (
                    "sheet",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="kept",
                        to="sheets.readingrow",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.AddConstraint(
            model_name="photorow",
            constraint=models.UniqueConstraint(
                fields=("course", "digest"), name="sheets_photo_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="readingrow",
            constraint=models.UniqueConstraint(
                fields=("photo", "page_id"), name="sheets_page_once"
            ),
        ),
    )
