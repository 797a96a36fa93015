from django.db import migrations, models
from django.db.models import Q

DECISIONS = ("decision.accepted", "decision.put_off")


def once_a(name):
    return models.UniqueConstraint(
        condition=Q((f"{name}__isnull", False), ~Q(happening__in=DECISIONS)),
        fields=("flag", "happening", name),
        name=f"notice_once_a_{name}",
    )


class Migration(migrations.Migration):
    dependencies = [("qc", "0027_report_names_its_job")]
    operations = [
        migrations.RemoveConstraint(model_name="notice", name="notice_once_a_person"),
        migrations.RemoveConstraint(model_name="notice", name="notice_once_a_webhook"),
        migrations.AddConstraint(model_name="notice", constraint=once_a("person")),
        migrations.AddConstraint(model_name="notice", constraint=once_a("webhook")),
    ]
