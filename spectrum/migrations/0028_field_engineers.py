"""The roles again: field engineers record what they find on a link and plan nothing of it."""

from django.db import migrations

from spectrum.roles import give_permissions


def permit(apps, schema_editor):
    give_permissions(apps, using=schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [
        ("spectrum", "0027_names_in_any_language"),
        ("licences", "0008_renewals_not_decided"),
        ("places", "0009_names_in_words"),
    ]

    operations = [
        migrations.AlterModelOptions(
            "link",
            {
                "ordering": ["code"],
                "permissions": [
                    ("check_network", "Can have the whole network checked"),
                    ("what_others_hold", "Can edit other parties' links"),
                    ("attach_link", "Can attach documents to a link without changing it"),
                ],
                "verbose_name": "link",
                "verbose_name_plural": "links",
            },
        ),
        migrations.RunPython(permit, migrations.RunPython.noop),
    ]
