"""The roles again: who reads and who decides differences with the regulator's extracts."""

from django.db import migrations

from spectrum.roles import give_permissions


def permit(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("spectrum", "0020_comparison")]

    operations = [migrations.RunPython(permit, migrations.RunPython.noop)]
