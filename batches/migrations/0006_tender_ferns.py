"""Note which ferns need a frost-free place in winter."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0005_benches_and_badges"),
    ]

    operations = [
        migrations.AddField(
            model_name="taxon",
            name="tender",
            field=models.BooleanField(blank=True, null=True),
        ),
    ]
