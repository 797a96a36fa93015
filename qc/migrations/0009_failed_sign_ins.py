from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("qc", "0008_stored_charts")]

    operations = [
        migrations.CreateModel(
            name="FailedSignIns",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name_hash", models.CharField(max_length=64, unique=True)),
                ("since", models.DateTimeField()),
                ("failures", models.PositiveIntegerField()),
            ],
            options={"verbose_name_plural": "failed sign-ins", "ordering": ["since"]},
        ),
    ]
