"""Staff accounts, with a user model of our own from the first row on."""

import django.db.models.functions.text
from django.db import migrations, models


class Migration(migrations.Migration):
    """See the module."""

    initial = True

    dependencies = ()

    operations = (
        migrations.CreateModel(
            name="User",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                (
                    "username",
                    models.CharField(max_length=40, unique=True, verbose_name="user name"),
                ),
                (
                    "display_name",
                    models.CharField(max_length=80, verbose_name="name as shown to colleagues"),
                ),
                ("roles", models.JSONField(default=list)),
                ("is_active", models.BooleanField(default=True, verbose_name="may sign in")),
            ],
            options={
                "verbose_name": "member of staff",
                "verbose_name_plural": "staff",
                "ordering": ("username",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("username", django.db.models.functions.text.Lower("username"))
                        ),
                        name="accounts_username_lower_case",
                    )
                ],
            },
        ),
    )
