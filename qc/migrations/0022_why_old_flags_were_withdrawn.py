"""Until now a flag was withdrawn for one reason only, and its state's label said it."""

from django.db import migrations

WHY = "The readings and limits now in force no longer show a move."


def say_why(apps, schema_editor):
    apps.get_model("qc", "Flag").objects.filter(state="withdrawn", note="").update(note=WHY)


class Migration(migrations.Migration):
    dependencies = [("qc", "0021_what_was_found_about_flags")]
    operations = [migrations.RunPython(say_why, migrations.RunPython.noop)]
