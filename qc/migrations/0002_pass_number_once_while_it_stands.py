from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("qc", "0001_first_tables")]

    operations = [
        migrations.RemoveConstraint(model_name="pass", name="pass_number_once"),
        migrations.AddConstraint(
            model_name="pass",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at__isnull", True)),
                fields=("round", "number"),
                name="pass_number_once",
            ),
        ),
    ]
