"""The steps of a licence are numbered in the order in which they were entered."""

from collections import defaultdict

from django.db import migrations, models


def number(apps, schema_editor):
    rows = apps.get_model("licences", "LicenceEvent").objects.using(schema_editor.connection.alias)
    last = defaultdict(int)
    for pk, licence in rows.order_by("pk").values_list("pk", "licence_id"):
        last[licence] += 1
        rows.filter(pk=pk).update(number=last[licence])


class Migration(migrations.Migration):
    dependencies = [("licences", "0006_names_in_words")]

    operations = [
        migrations.AddField(
            "licenceevent",
            "number",
            models.PositiveIntegerField("number of the step", default=0, editable=False),
            preserve_default=False,
        ),
        migrations.RunPython(number, migrations.RunPython.noop),
        migrations.AddConstraint(
            "licenceevent",
            models.UniqueConstraint(
                fields=["licence", "number"],
                name="event_number_once",
                violation_error_message="Somebody entered another step of this licence at the same moment. "
                "Enter yours again.",
            ),
        ),
    ]
