"""The roles again: documents came with places 0007."""

from django.db import migrations

from spectrum.roles import give_permissions


def permit(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("spectrum", "0018_applications"), ("places", "0007_documents")]

    operations = [migrations.RunPython(permit, migrations.RunPython.noop)]
