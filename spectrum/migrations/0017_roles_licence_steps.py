"""The roles again: steps in the life of licences came with licences 0003."""

from django.db import migrations

from spectrum.roles import give_permissions


def permit(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("spectrum", "0016_import_files"), ("licences", "0003_life_of_a_licence")]

    operations = [migrations.RunPython(permit, migrations.RunPython.noop)]
