"""Trainees by code, referrals, courses."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    initial = True

    dependencies = ()

    operations = (
        migrations.CreateModel(
            name="Trainee",
            fields=[
                ("code", models.CharField(max_length=16, primary_key=True, serialize=False)),
                ("site", models.CharField(max_length=40)),
                ("language", models.CharField(default="en", max_length=16)),
                ("entered", models.DateTimeField()),
                (
                    "entered_by",
                    models.CharField(max_length=80, verbose_name="audit key of who entered it"),
                ),
            ],
            options={
                "ordering": ("-entered", "code"),
            },
        ),
        migrations.CreateModel(
            name="ReferralRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveSmallIntegerField()),
                ("age_years", models.PositiveSmallIntegerField(null=True)),
                ("band", models.CharField(blank=True, max_length=40)),
                ("form", models.CharField(max_length=20)),
                ("referred", models.DateField(null=True)),
                ("last_change", models.DateField(null=True)),
                ("answers", models.JSONField(default=dict)),
                ("written", models.DateTimeField()),
                (
                    "written_by",
                    models.CharField(max_length=80, verbose_name="audit key of who wrote it"),
                ),
                (
                    "trainee",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="referrals",
                        to="trainees.trainee",
                    ),
                ),
            ],
            options={
                "ordering": ("trainee", "version"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("trainee", "version"), name="trainees_referral_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Course",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                ("opened", models.DateTimeField()),
                (
                    "opened_by",
                    models.CharField(max_length=80, verbose_name="audit key of who opened it"),
                ),
                ("closed", models.DateTimeField(null=True)),
                (
                    "closed_by",
                    models.CharField(
                        blank=True, max_length=80, verbose_name="audit key of who closed it"
                    ),
                ),
                ("why_closed", models.CharField(blank=True, max_length=20)),
                (
                    "trainee",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="courses",
                        to="trainees.trainee",
                    ),
                ),
            ],
            options={
                "ordering": ("trainee", "number"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("trainee", "number"), name="trainees_course_once"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("closed__isnull", True)),
                        fields=("trainee",),
                        name="trainees_one_open_course",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("closed__isnull", True), ("closed_by", ""), ("why_closed", "")
                            ),
                            models.Q(
                                ("closed__isnull", False),
                                models.Q(("closed_by", ""), _negated=True),
                                models.Q(("why_closed", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="trainees_closing_said_whole",
                    ),
                ],
            },
        ),
    )
