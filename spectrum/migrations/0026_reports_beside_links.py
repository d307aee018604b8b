"""The report of conflicts that was filed of a link stands beside the link, no longer by its number in the application."""

from django.db import migrations, models


def move(apps, schema_editor):
    alias = schema_editor.connection.alias
    rows = apps.get_model("spectrum", "ApplicationLink").objects.using(alias)
    applications = apps.get_model("licences", "Application").objects.using(alias)
    for application in applications.exclude(filed_as=None):
        reports = application.filed_as.pop("reports", {})
        for row in rows.filter(application=application.pk):
            row.report = reports.get(str(row.link_id))
            row.save(update_fields=["report"])
        application.save(update_fields=["filed_as"])


def move_back(apps, schema_editor):
    alias = schema_editor.connection.alias
    rows = apps.get_model("spectrum", "ApplicationLink").objects.using(alias)
    applications = apps.get_model("licences", "Application").objects.using(alias)
    for application in applications.exclude(filed_as=None):
        kept = rows.filter(application=application.pk).exclude(report=None)
        application.filed_as["reports"] = {str(row.link_id): row.report for row in kept}
        application.save(update_fields=["filed_as"])


class Migration(migrations.Migration):
    dependencies = [("spectrum", "0025_words_of_findings"), ("licences", "0007_numbers_of_steps")]

    operations = [
        migrations.AddField(
            "applicationlink",
            "report",
            models.JSONField(
                "report of conflicts as filed", null=True, default=None, blank=True, editable=False
            ),
        ),
        migrations.RunPython(move, move_back),
    ]
