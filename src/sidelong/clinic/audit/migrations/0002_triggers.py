"""Triggers that keep the audit trail as it was written."""

from django.db import migrations

from sidelong.clinic.audit.triggers import install_triggers, remove_triggers


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (("audit", "0001_initial"),)

    operations = (migrations.RunPython(install_triggers, remove_triggers),)
