"""The roles: groups with the permissions of spectrum.roles."""

from django.db import migrations

from spectrum.roles import ROLES, give_permissions


def make_roles(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


def remove_roles(apps, schema_editor):
    group = apps.get_model("auth", "Group")
    group.objects.using(schema_editor.connection.alias).filter(name__in=ROLES).delete()


class Migration(migrations.Migration):
    dependencies = [
        ("spectrum", "0001_initial"),
        ("licences", "0002_initial"),
        ("places", "0002_guards"),
        ("auth", "0012_alter_user_first_name_max_length"),
        ("contenttypes", "0002_remove_content_type_name"),
    ]

    operations = [migrations.RunPython(make_roles, remove_roles)]
