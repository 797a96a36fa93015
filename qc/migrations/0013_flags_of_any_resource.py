"""A fixture's flag becomes a flag of any resource, with its channel and its suspects."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Q

ABOUT = ("fixture", "lathe", "edge", "gauge", "person")
TARGET = {
    "fixture": "qc.fixture",
    "lathe": "qc.lathe",
    "edge": "qc.tooledge",
    "gauge": "qc.gauge",
    "person": "qc.person",
}


def key(to):
    return models.ForeignKey(
        blank=True,
        null=True,
        on_delete=django.db.models.deletion.PROTECT,
        related_name="flags",
        to=to,
    )


def to_round():
    return models.ForeignKey(
        blank=True,
        null=True,
        on_delete=django.db.models.deletion.PROTECT,
        related_name="+",
        to="qc.round",
    )


def about_one():
    one = Q()
    for chosen in ABOUT:
        one |= Q(**{f"{name}__isnull": name != chosen for name in ABOUT})
    return one


class Migration(migrations.Migration):
    dependencies = [("qc", "0012_drift_is_stored")]

    operations = [
        migrations.RemoveConstraint(model_name="fixtureflag", name="flag_state_known"),
        migrations.RemoveConstraint(model_name="fixtureflag", name="one_open_flag_a_fixture"),
        migrations.RenameModel(old_name="FixtureFlag", new_name="Flag"),
        migrations.RenameField(model_name="flag", old_name="side_to_side_mm", new_name="size"),
        migrations.AddField(
            model_name="flag",
            name="channel",
            field=models.CharField(
                choices=[("tilt", "tilt"), ("height", "height error"), ("spread", "spread")],
                default="tilt",
                max_length=8,
            ),
            preserve_default=False,
        ),
        migrations.AlterField(model_name="flag", name="fixture", field=key("qc.fixture")),
        *(
            migrations.AddField(model_name="flag", name=name, field=key(TARGET[name]))
            for name in ABOUT[1:]
        ),
        migrations.AlterField(
            model_name="flag",
            name="state",
            field=models.CharField(
                choices=[
                    ("raised", "raised"),
                    ("looked_into", "being looked into"),
                    ("cause_found", "cause found"),
                    ("none_found", "no cause found"),
                    ("cleared", "cleared by service"),
                    ("withdrawn", "withdrawn: the readings no longer show it"),
                ],
                default="raised",
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="flag",
            name="wide_toward_deg",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(model_name="flag", name="moved_from", field=to_round()),
        migrations.AddField(model_name="flag", name="moved_to", field=to_round()),
        migrations.AddField(
            model_name="flag", name="size_u", field=models.FloatField(blank=True, null=True)
        ),
        migrations.AddField(
            model_name="flag",
            name="ramp_probability",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="flag", name="suspects", field=models.JSONField(default=list)
        ),
        migrations.AddConstraint(
            model_name="flag",
            constraint=models.CheckConstraint(
                condition=Q(channel__in=["tilt", "height", "spread"]), name="flag_channel_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="flag",
            constraint=models.CheckConstraint(
                condition=Q(
                    state__in=[
                        "raised",
                        "looked_into",
                        "cause_found",
                        "none_found",
                        "cleared",
                        "withdrawn",
                    ]
                ),
                name="flag_state_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="flag",
            constraint=models.CheckConstraint(condition=about_one(), name="flag_about_one"),
        ),
        *(
            migrations.AddConstraint(
                model_name="flag",
                constraint=models.UniqueConstraint(
                    condition=Q(state__in=["raised", "looked_into"]),
                    fields=("channel", name),
                    name=f"one_open_flag_of_{name}",
                ),
            )
            for name in ABOUT
        ),
    ]
