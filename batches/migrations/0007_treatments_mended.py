from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0006_stored_forms"),
    ]

    operations = [
        migrations.AddField(
            model_name="treatment",
            name="said_before",
            field=models.TextField(blank=True, default=""),
        ),
    ]
