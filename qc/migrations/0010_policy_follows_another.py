import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("qc", "0009_failed_sign_ins")]

    operations = [
        migrations.AddField(
            model_name="shoppolicy",
            name="follows",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="followed_by",
                to="qc.shoppolicy",
            ),
        ),
    ]
