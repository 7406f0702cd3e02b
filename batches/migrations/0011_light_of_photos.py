"""Keep what photographs of a tray are compared by."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0010_weeks_work_at_once"),
    ]

    operations = [
        migrations.AddField(
            model_name="checkphoto",
            name="light",
            field=models.JSONField(blank=True, null=True),
        ),
    ]
