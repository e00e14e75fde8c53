"""Sign-offs for up."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (
        ("practice", "0002_promises"),
        ("trainees", "0002_way"),
    )

    operations = (
        migrations.CreateModel(
            name="UpSignOff",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "meaning",
                    models.CharField(max_length=16, verbose_name="may suggest, or withdrawn"),
                ),
                ("reason", models.CharField(max_length=500, verbose_name="what for")),
                ("role", models.CharField(max_length=80, verbose_name="as what the signer signed")),
                (
                    "protocol",
                    models.CharField(max_length=64, verbose_name="fingerprint of the protocol"),
                ),
                (
                    "digest",
                    models.CharField(max_length=64, verbose_name="SHA-256 of all that was signed"),
                ),
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
                    "course",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="up_sign_offs",
                        to="trainees.course",
                    ),
                ),
            ],
            options={
                "ordering": ("course", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reason", ""), _negated=True),
                            models.Q(("signed_by", ""), _negated=True),
                        ),
                        name="practice_up_signed_by_somebody",
                    )
                ],
            },
        ),
    )
