"""Locked estimates and first real doses."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (
        ("practice", "0001_initial"),
        ("trainees", "0002_way"),
    )

    operations = (
        migrations.CreateModel(
            name="EstimateLock",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                (
                    "follow_up",
                    models.PositiveSmallIntegerField(verbose_name="which follow-up of the course"),
                ),
                ("lock", models.TextField(verbose_name="the locked estimate, canonical JSON")),
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
                    "digest",
                    models.CharField(max_length=64, verbose_name="SHA-256 of lock and content"),
                ),
                ("locked", models.DateTimeField()),
                (
                    "locked_by",
                    models.CharField(
                        max_length=80, verbose_name="audit key of who began the follow-up"
                    ),
                ),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="locks",
                        to="trainees.course",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "number"),
            },
        ),
        migrations.CreateModel(
            name="FirstDoseRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveSmallIntegerField()),
                ("given_on", models.DateField()),
                (
                    "position",
                    models.CharField(
                        blank=True, max_length=8, verbose_name="blank where nobody knows"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        max_length=16, verbose_name="tablet, capsule or liquid-filled"
                    ),
                ),
                ("shape", models.CharField(max_length=10)),
                ("largest_mm", models.FloatField(verbose_name="largest dimension, mm")),
                (
                    "seen_by",
                    models.CharField(max_length=8, verbose_name="staff, or home as a report"),
                ),
                ("went_down", models.CharField(max_length=8)),
                ("why_not", models.CharField(blank=True, max_length=12)),
                (
                    "rating",
                    models.PositiveSmallIntegerField(
                        null=True, verbose_name="1 very hard to 5 very easy"
                    ),
                ),
                ("whole", models.BooleanField(null=True)),
                ("unchewed", models.BooleanField(null=True)),
                ("unaided", models.BooleanField(null=True)),
                ("kept", models.DateTimeField()),
                (
                    "kept_by",
                    models.CharField(max_length=80, verbose_name="audit key of who recorded it"),
                ),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="first_doses",
                        to="trainees.course",
                    ),
                ),
                (
                    "lock",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="first_doses",
                        to="practice.estimatelock",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "version"),
            },
        ),
        migrations.AddConstraint(
            model_name="estimatelock",
            constraint=models.UniqueConstraint(
                fields=("course", "number"), name="practice_lock_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="estimatelock",
            constraint=models.UniqueConstraint(
                fields=("course", "follow_up", "evidence"), name="practice_lock_evidence_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="estimatelock",
            constraint=models.CheckConstraint(
                condition=models.Q(("follow_up__gte", 1), ("number__gte", 1)),
                name="practice_lock_from_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="firstdoserow",
            constraint=models.UniqueConstraint(
                fields=("course", "version"), name="practice_dose_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="firstdoserow",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("rating__isnull", True),
                    models.Q(("rating__gte", 1), ("rating__lte", 5)),
                    _connector="OR",
                ),
                name="practice_dose_rating_in_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="firstdoserow",
            constraint=models.CheckConstraint(
                condition=models.Q(("largest_mm__gt", 0)), name="practice_dose_has_a_size"
            ),
        ),
        migrations.AddConstraint(
            model_name="firstdoserow",
            constraint=models.CheckConstraint(
                condition=models.Q(("why_not", ""), ("went_down", "no"), _connector="OR"),
                name="practice_dose_reason_only_for_no",
            ),
        ),
    )
