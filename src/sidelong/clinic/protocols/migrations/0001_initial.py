"""Protocols and ladders."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    initial = True

    dependencies = ()

    operations = (
        migrations.CreateModel(
            name="LadderVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("site", models.CharField(max_length=40)),
                ("text", models.TextField()),
                ("fingerprint", models.CharField(max_length=64)),
                ("taken_up", models.DateTimeField()),
                (
                    "taken_up_by",
                    models.CharField(
                        max_length=80, verbose_name="audit key of who took it into use"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
            ],
            options={
                "ordering": ("site", "number"),
                "constraints": [
                    models.UniqueConstraint(fields=("site", "number"), name="protocols_ladder_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="ProtocolVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("site", models.CharField(max_length=40)),
                ("text", models.TextField()),
                ("fingerprint", models.CharField(max_length=64)),
                ("taken_up", models.DateTimeField()),
                (
                    "taken_up_by",
                    models.CharField(
                        max_length=80, verbose_name="audit key of who took it into use"
                    ),
                ),
                ("version", models.CharField(max_length=60)),
            ],
            options={
                "ordering": ("site", "pk"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("site", "version"), name="protocols_version_once"
                    )
                ],
            },
        ),
    )
