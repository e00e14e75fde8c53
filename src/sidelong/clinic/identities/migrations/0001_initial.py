"""Sealed identities and their blind index."""

import django.db.models.deletion
from django.db import migrations, models

import sidelong.clinic.identities.fields


class Migration(migrations.Migration):
    """See the module."""

    initial = True

    dependencies = ()

    operations = (
        migrations.CreateModel(
            name="SealedIdentity",
            fields=[
                ("code", models.CharField(max_length=16, primary_key=True, serialize=False)),
                ("given_names", sidelong.clinic.identities.fields.SealedField()),
                ("family_name", sidelong.clinic.identities.fields.SealedField()),
                ("birth_date", sidelong.clinic.identities.fields.SealedField()),
                ("supporter_name", sidelong.clinic.identities.fields.SealedField()),
                ("phone", sidelong.clinic.identities.fields.SealedField()),
                ("email", sidelong.clinic.identities.fields.SealedField()),
                ("address", sidelong.clinic.identities.fields.SealedField()),
            ],
            options={
                "verbose_name_plural": "sealed identities",
                "ordering": ("code",),
            },
        ),
        migrations.CreateModel(
            name="IndexToken",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key_name", models.CharField(max_length=40)),
                ("token", models.CharField(db_index=True, max_length=64)),
                (
                    "identity",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="tokens",
                        to="identities.sealedidentity",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("identity", "key_name", "token"), name="identities_token_once"
                    )
                ],
            },
        ),
    )
