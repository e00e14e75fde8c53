"""Answers, decisions, visits, the allocation, plans and booklets."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (
        ("protocols", "0001_initial"),
        ("trainees", "0001_initial"),
    )

    operations = (
        migrations.CreateModel(
            name="Allocation",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "key_name",
                    models.CharField(
                        max_length=40, unique=True, verbose_name="name of the key on the key ring"
                    ),
                ),
                ("commitment", models.CharField(max_length=64, unique=True)),
                (
                    "orders_table",
                    models.CharField(
                        max_length=64, verbose_name="SHA-256 of the table of base orders"
                    ),
                ),
                ("program", models.CharField(max_length=40)),
                ("begun", models.DateTimeField()),
                (
                    "begun_by",
                    models.CharField(max_length=80, verbose_name="audit key of who began it"),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.CreateModel(
            name="AnswerRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("question", models.CharField(max_length=60)),
                ("answer", models.CharField(max_length=10)),
                ("written", models.DateTimeField()),
                (
                    "written_by",
                    models.CharField(max_length=80, verbose_name="audit key of who wrote it"),
                ),
                (
                    "referral",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="given",
                        to="trainees.referralrow",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.CreateModel(
            name="DecisionRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "gate",
                    models.CharField(max_length=60, verbose_name="gate, or practice as a whole"),
                ),
                ("decided", models.CharField(max_length=20)),
                (
                    "decided_by",
                    models.CharField(max_length=80, verbose_name="clinician, as staff are named"),
                ),
                ("role", models.CharField(max_length=80)),
                ("decided_on", models.DateField()),
                ("expires_on", models.DateField()),
                ("reason", models.CharField(max_length=500)),
                ("gives_back", models.JSONField(default=list)),
                ("takes_out", models.JSONField(default=list)),
                ("lifts", models.JSONField(default=list)),
                ("max_piece_mm", models.FloatField(null=True)),
                ("water_ml", models.FloatField(null=True)),
                ("written", models.DateTimeField()),
                (
                    "written_by",
                    models.CharField(max_length=80, verbose_name="audit key of who wrote it"),
                ),
                (
                    "trainee",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="decisions",
                        to="trainees.trainee",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.CreateModel(
            name="PlanRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveSmallIntegerField()),
                ("band", models.CharField(blank=True, max_length=40)),
                ("start", models.DateField(null=True)),
                ("nights", models.JSONField(verbose_name="orders and pieces of all nights")),
                (
                    "scale",
                    models.PositiveSmallIntegerField(
                        null=True, verbose_name="form of the rating; empty for a supporter"
                    ),
                ),
                ("commitment", models.CharField(max_length=64)),
                ("stream", models.CharField(max_length=200)),
                ("stream_index", models.PositiveIntegerField()),
                ("issued", models.DateTimeField()),
                (
                    "issued_by",
                    models.CharField(max_length=80, verbose_name="audit key of who issued it"),
                ),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="plans",
                        to="trainees.course",
                    ),
                ),
                (
                    "decision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="trainees.decisionrow",
                    ),
                ),
                (
                    "ladder",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="protocols.ladderversion",
                    ),
                ),
                (
                    "protocol",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="protocols.protocolversion",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "version"),
            },
        ),
        migrations.CreateModel(
            name="BookletRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("paper", models.CharField(max_length=10)),
                ("language", models.CharField(max_length=16)),
                ("digest", models.CharField(max_length=64, verbose_name="SHA-256 of the PDF")),
                ("made", models.DateTimeField()),
                (
                    "made_by",
                    models.CharField(max_length=80, verbose_name="audit key of who made it"),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="booklets",
                        to="trainees.planrow",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
            },
        ),
        migrations.CreateModel(
            name="Stream",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("label", models.CharField(max_length=200)),
                ("n_taken", models.PositiveIntegerField(default=0)),
                (
                    "allocation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="streams",
                        to="trainees.allocation",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="VisitRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveSmallIntegerField()),
                ("held_on", models.DateField()),
                ("adult_present", models.BooleanField()),
                ("trainee_agreed", models.BooleanField()),
                (
                    "seen",
                    models.JSONField(default=list, verbose_name="what was seen in each position"),
                ),
                (
                    "piece",
                    models.CharField(
                        blank=True, max_length=40, verbose_name="code of the largest piece tried"
                    ),
                ),
                ("scale", models.PositiveSmallIntegerField(null=True)),
                (
                    "seen_cleanly",
                    models.BooleanField(verbose_name="a piece was seen swallowed cleanly"),
                ),
                ("released", models.BooleanField(verbose_name="pieces may go home")),
                ("written", models.DateTimeField()),
                (
                    "written_by",
                    models.CharField(max_length=80, verbose_name="audit key of who wrote it"),
                ),
                (
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="visits",
                        to="trainees.course",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "version"),
            },
        ),
        migrations.AddField(
            model_name="planrow",
            name="visit",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="trainees.visitrow",
            ),
        ),
        migrations.AddConstraint(
            model_name="decisionrow",
            constraint=models.CheckConstraint(
                condition=models.Q(("expires_on__gte", models.F("decided_on"))),
                name="trainees_decision_ends_after_it_begins",
            ),
        ),
        migrations.AddConstraint(
            model_name="decisionrow",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("decided_by", ""), _negated=True),
                    models.Q(("role", ""), _negated=True),
                    models.Q(("reason", ""), _negated=True),
                ),
                name="trainees_decision_of_somebody",
            ),
        ),
        migrations.AddConstraint(
            model_name="stream",
            constraint=models.UniqueConstraint(
                fields=("allocation", "label"), name="trainees_stream_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="visitrow",
            constraint=models.UniqueConstraint(
                fields=("course", "version"), name="trainees_visit_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="visitrow",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("released", False),
                    models.Q(
                        ("adult_present", True), ("seen_cleanly", True), ("trainee_agreed", True)
                    ),
                    _connector="OR",
                ),
                name="trainees_released_if_seen_cleanly",
            ),
        ),
        migrations.AddConstraint(
            model_name="planrow",
            constraint=models.UniqueConstraint(
                fields=("course", "version"), name="trainees_plan_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="planrow",
            constraint=models.UniqueConstraint(
                fields=("commitment", "stream", "stream_index"), name="trainees_place_once"
            ),
        ),
    )
