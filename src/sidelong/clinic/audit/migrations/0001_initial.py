"""Tables of the audit trail."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    initial = True

    dependencies = ()

    operations = (
        migrations.CreateModel(
            name="AuditRow",
            fields=[
                ("number", models.PositiveBigIntegerField(primary_key=True, serialize=False)),
                ("version", models.PositiveSmallIntegerField()),
                ("at", models.CharField(max_length=40)),
                ("actor", models.CharField(db_index=True, max_length=80)),
                ("verb", models.CharField(max_length=80)),
                ("subject", models.CharField(db_index=True, max_length=80)),
                ("detail", models.TextField()),
                ("previous", models.CharField(max_length=64)),
                ("digest", models.CharField(max_length=64, unique=True)),
            ],
            options={
                "ordering": ("number",),
            },
        ),
        migrations.CreateModel(
            name="AuditHead",
            fields=[
                ("id", models.PositiveSmallIntegerField(primary_key=True, serialize=False)),
                ("number", models.PositiveBigIntegerField()),
                ("digest", models.CharField(max_length=64)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="audit_one_head")
                ],
            },
        ),
    )
