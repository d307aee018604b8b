"""The roles again: protection criteria came with 0004, after the roles of 0002."""

from django.db import migrations

from spectrum.roles import give_permissions


def permit(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("spectrum", "0005_extracts")]

    operations = [migrations.RunPython(permit, migrations.RunPython.noop)]
