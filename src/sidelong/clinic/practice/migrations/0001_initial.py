"""Nights, events, results and signatures."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    initial = True

    dependencies = (("trainees", "0001_initial"),)

    operations = (
        migrations.CreateModel(
            name="NightEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("night", models.PositiveSmallIntegerField(verbose_name="number of the sheet")),
                ("version", models.PositiveSmallIntegerField()),
                ("plan_version", models.PositiveSmallIntegerField()),
                (
                    "source",
                    models.CharField(max_length=10, verbose_name="how it reached the clinic"),
                ),
                ("evening", models.DateField(null=True, verbose_name="date, where one was given")),
                (
                    "written",
                    models.CharField(
                        blank=True,
                        max_length=20,
                        verbose_name="when it was written, as the family says",
                    ),
                ),
                ("scale", models.PositiveSmallIntegerField(verbose_name="answers offered")),
                ("rated_by", models.CharField(blank=True, max_length=12)),
                (
                    "felt_best",
                    models.CharField(
                        blank=True, max_length=12, verbose_name="position, all_the_same or blank"
                    ),
                ),
                (
                    "not_done",
                    models.CharField(
                        blank=True, max_length=12, verbose_name="why nobody practised"
                    ),
                ),
                ("kept", models.DateTimeField()),
                (
                    "kept_by",
                    models.CharField(max_length=80, verbose_name="audit key of who kept it"),
                ),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="nights",
                        to="trainees.course",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "night", "version"),
            },
        ),
        migrations.CreateModel(
            name="NightRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "slot",
                    models.PositiveSmallIntegerField(verbose_name="place in the night's order"),
                ),
                ("position", models.CharField(max_length=8)),
                (
                    "piece_mm",
                    models.FloatField(null=True, verbose_name="largest dimension of the piece, mm"),
                ),
                (
                    "rating",
                    models.PositiveSmallIntegerField(
                        null=True, verbose_name="1 very hard to 5 very easy"
                    ),
                ),
                ("went_down", models.CharField(blank=True, max_length=8)),
                ("why_not", models.CharField(blank=True, max_length=12)),
                (
                    "entry",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rows",
                        to="practice.nightentry",
                    ),
                ),
            ],
            options={
                "ordering": ("entry", "slot"),
            },
        ),
        migrations.CreateModel(
            name="Result",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                (
                    "content",
                    models.TextField(
                        verbose_name="nights, events, plan and figures, canonical JSON"
                    ),
                ),
                (
                    "evidence",
                    models.CharField(
                        max_length=64, verbose_name="SHA-256 of what the figures rest on"
                    ),
                ),
                (
                    "hyperparameters",
                    models.CharField(max_length=200, verbose_name="name of the set"),
                ),
                ("program", models.CharField(max_length=40, verbose_name="version of the program")),
                ("made", models.DateTimeField()),
                (
                    "made_by",
                    models.CharField(max_length=80, verbose_name="audit key of who had it made"),
                ),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="results",
                        to="trainees.course",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "number"),
            },
        ),
        migrations.CreateModel(
            name="Signature",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("meaning", models.CharField(max_length=24, verbose_name="what was decided")),
                (
                    "position",
                    models.CharField(
                        blank=True, max_length=8, verbose_name="blank where none was chosen"
                    ),
                ),
                (
                    "digest",
                    models.CharField(max_length=64, verbose_name="SHA-256 of all that was signed"),
                ),
                ("role", models.CharField(max_length=20, verbose_name="as what the signer signed")),
                ("signed", models.CharField(max_length=40, verbose_name="UTC, ISO 8601")),
                (
                    "signed_by",
                    models.CharField(max_length=80, verbose_name="audit key of the signer"),
                ),
                (
                    "shown_as",
                    models.CharField(max_length=80, verbose_name="name as colleagues saw it then"),
                ),
                (
                    "result",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signatures",
                        to="practice.result",
                    ),
                ),
            ],
            options={
                "ordering": ("result", "id"),
            },
        ),
        migrations.CreateModel(
            name="EventRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("night", models.PositiveSmallIntegerField(verbose_name="number of the sheet")),
                ("tier", models.CharField(max_length=16)),
                (
                    "position",
                    models.CharField(
                        blank=True, max_length=8, verbose_name="blank where nobody knows"
                    ),
                ),
                ("kept", models.DateTimeField()),
                (
                    "kept_by",
                    models.CharField(max_length=80, verbose_name="audit key of who recorded it"),
                ),
                ("answered", models.DateTimeField(null=True)),
                (
                    "answered_by",
                    models.CharField(
                        blank=True, max_length=80, verbose_name="audit key of the clinician"
                    ),
                ),
                ("answer", models.CharField(blank=True, max_length=16)),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="events",
                        to="trainees.course",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("answer", ""), ("answered__isnull", True), ("answered_by", "")
                            ),
                            models.Q(
                                ("answered__isnull", False),
                                models.Q(("answered_by", ""), _negated=True),
                                models.Q(("answer", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="practice_answer_said_whole",
                    )
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="nightentry",
            constraint=models.UniqueConstraint(
                fields=("course", "night", "version"), name="practice_night_version_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="nightentry",
            constraint=models.CheckConstraint(
                condition=models.Q(("night__gte", 1), ("version__gte", 1)),
                name="practice_night_from_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="nightentry",
            constraint=models.CheckConstraint(
                condition=models.Q(("scale__in", (2, 3, 4, 5))), name="practice_scale_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="nightrow",
            constraint=models.UniqueConstraint(fields=("entry", "slot"), name="practice_slot_once"),
        ),
        migrations.AddConstraint(
            model_name="nightrow",
            constraint=models.UniqueConstraint(
                fields=("entry", "position"), name="practice_position_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="nightrow",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("rating__isnull", True),
                    models.Q(("rating__gte", 1), ("rating__lte", 5)),
                    _connector="OR",
                ),
                name="practice_rating_in_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="result",
            constraint=models.UniqueConstraint(
                fields=("course", "number"), name="practice_result_once"
            ),
        ),
    )
