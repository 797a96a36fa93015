"""A service made from a report named the lead who confirmed it; the report says who did it."""

from django.db import migrations
from django.db.models import F


def say_who_did_it(apps, schema_editor):
    services = apps.get_model("qc", "ServiceEvent").objects
    reports = apps.get_model("qc", "Reindication").objects.filter(service__isnull=False)
    for one in reports.exclude(service__by=F("by")).values("service", "by"):
        services.filter(pk=one["service"]).update(by=one["by"])


class Migration(migrations.Migration):
    dependencies = [("qc", "0028_each_decision_is_told")]
    operations = [migrations.RunPython(say_who_did_it, migrations.RunPython.noop)]
