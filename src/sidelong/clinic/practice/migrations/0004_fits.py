"""Consents to learn from nights, and the clinic's own fits."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (
        ("practice", "0003_up_sign_off"),
        ("trainees", "0002_way"),
    )

    operations = (
        migrations.CreateModel(
            name="ConsentRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("answer", models.CharField(max_length=10, verbose_name="yes, no or not asked")),
                ("written", models.DateTimeField()),
                (
                    "written_by",
                    models.CharField(max_length=80, verbose_name="audit key of who wrote it"),
                ),
                (
                    "trainee",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consents",
                        to="trainees.trainee",
                    ),
                ),
            ],
            options={"ordering": ("pk",)},
        ),
        migrations.CreateModel(
            name="FitRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "key",
                    models.CharField(
                        max_length=64,
                        unique=True,
                        verbose_name="SHA-256 of the stored fit and its time",
                    ),
                ),
                (
                    "content",
                    models.TextField(verbose_name="the stored fit, as the command writes it"),
                ),
                (
                    "trainees",
                    models.JSONField(
                        default=list, verbose_name="codes of those it was learned from"
                    ),
                ),
                ("made", models.DateTimeField()),
                (
                    "made_by",
                    models.CharField(max_length=80, verbose_name="audit key of who had it made"),
                ),
            ],
            options={"ordering": ("pk",)},
        ),
    )
