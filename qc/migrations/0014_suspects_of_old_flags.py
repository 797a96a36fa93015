"""Flags raised by a fixture's own chart had one suspect, whose probability nobody worked out."""

from django.db import migrations


def name_the_fixture(apps, schema_editor):
    flags = apps.get_model("qc", "Flag").objects.filter(suspects=[], fixture__isnull=False)
    for flag in flags.iterator(chunk_size=500):
        flag.suspects = [{"kind": "fixture", "key": flag.fixture_id, "probability": None}]
        flag.save(update_fields=["suspects"])


class Migration(migrations.Migration):
    dependencies = [("qc", "0013_flags_of_any_resource")]
    operations = [migrations.RunPython(name_the_fixture, migrations.RunPython.noop)]
