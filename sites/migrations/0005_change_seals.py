from django.db import migrations, models

from sites import guards
from sites.services.sealing import seal


def seal_what_is_there(apps, schema_editor):
    seal(whole=True, models=(apps.get_model("places", "ChangeRecord"), apps.get_model("places", "ChangeSeal")))


def install(apps, schema_editor):
    guards.install(schema_editor.connection, guards.SEALS)


def remove(apps, schema_editor):
    guards.remove(schema_editor.connection, guards.SEALS)


class Migration(migrations.Migration):

    dependencies = [
        ("places", "0004_map_layers"),
    ]

    operations = [
        migrations.CreateModel(
            name="ChangeSeal",
            fields=[
                ("position", models.BigIntegerField(primary_key=True, serialize=False)),
                ("entry_id", models.BigIntegerField(unique=True)),
                ("entry_digest", models.CharField(max_length=64)),
                ("digest", models.CharField(max_length=64)),
                ("sealed_at", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "ordering": ["position"],
                "default_permissions": (),
            },
        ),
        migrations.RunPython(seal_what_is_there, migrations.RunPython.noop),
        migrations.RunPython(install, remove),
    ]
