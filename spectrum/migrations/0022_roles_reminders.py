"""The roles again: answering reminders came with licences 0005."""

from django.db import migrations

from spectrum.roles import give_permissions


def permit(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("spectrum", "0021_roles_comparison"), ("licences", "0005_reminders")]

    operations = [migrations.RunPython(permit, migrations.RunPython.noop)]
