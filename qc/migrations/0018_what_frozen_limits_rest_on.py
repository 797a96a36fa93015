from django.db import migrations, models
from django.db.models import Q


def count_jobs(apps, schema_editor):
    """Limits frozen before tell their jobs; how many neighbours among them is taken as one less."""
    Baseline = apps.get_model("qc", "Baseline")
    rests_on = {}
    for one in Baseline.objects.all():
        jobs = max(2, one.rounds.count())
        rests_on[one.pk] = (jobs, jobs - 1)
        Baseline.objects.filter(pk=one.pk).update(job_count=jobs, pair_count=jobs - 1)
    for name in ("StoredChart", "ChartMark"):
        for row in apps.get_model("qc", name).objects.all():
            kept = row.state.get("kept")
            counted = rests_on.get(row.state.get("limits_of"))
            if kept and counted and kept.get("is_held"):
                kept["jobs"], kept["pairs"] = counted
                row.save(update_fields=["state"])


class Migration(migrations.Migration):
    dependencies = [("qc", "0017_minutes_of_each_kind")]

    operations = [
        migrations.AddField(
            model_name="baseline",
            name="job_count",
            field=models.PositiveIntegerField(default=2),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="baseline",
            name="pair_count",
            field=models.PositiveIntegerField(default=1),
            preserve_default=False,
        ),
        migrations.RunPython(count_jobs, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="baseline",
            constraint=models.CheckConstraint(
                condition=Q(job_count__gt=1, pair_count__gt=0), name="baseline_rests_on_jobs"
            ),
        ),
    ]
