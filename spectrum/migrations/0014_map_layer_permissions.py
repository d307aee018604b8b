from django.db import migrations

from spectrum.roles import give_permissions


def permit(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


class Migration(migrations.Migration):

    dependencies = [
        ("places", "0004_map_layers"),
        ("spectrum", "0013_station_mode_frequency"),
    ]

    operations = [migrations.RunPython(permit, migrations.RunPython.noop)]
