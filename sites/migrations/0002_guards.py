from django.db import migrations

from sites import guards


def forwards(apps, schema_editor):
    guards.install(schema_editor.connection)


def backwards(apps, schema_editor):
    guards.remove(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("places", "0001_initial")]
    operations = [migrations.RunPython(forwards, backwards)]
