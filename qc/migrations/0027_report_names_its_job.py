import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("qc", "0026_set_up_to_tell_apart")]
    operations = [
        migrations.AddField(
            model_name="reindication",
            name="job",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="reindications",
                to="qc.job",
            ),
        ),
    ]
