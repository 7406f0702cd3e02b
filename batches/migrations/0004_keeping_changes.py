"""Keep who changed a tray's lid or set it apart, and when."""

import django.db.models.deletion
import uuid
from django.db import migrations, models

from batches.models.guards import create_guards


def guard(apps, schema_editor):
    create_guards(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0003_found_at_once"),
    ]

    operations = [
        migrations.CreateModel(
            name="KeepingChange",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("by", models.CharField(blank=True, default="", max_length=80)),
                ("recorded_at", models.DateTimeField()),
                ("on", models.DateField()),
                ("what", models.CharField(max_length=8)),
                ("before", models.CharField(blank=True, default="", max_length=8)),
                ("after", models.CharField(blank=True, default="", max_length=8)),
                (
                    "strikes_out",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="struck_by",
                        to="batches.keepingchange",
                    ),
                ),
                (
                    "tray",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="keeping_changes",
                        to="batches.tray",
                    ),
                ),
            ],
            options={
                "ordering": ["on", "recorded_at", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("after__in", ["closed", "vented", "off"]), ("what", "cover")),
                            models.Q(("after__in", ["yes", ""]), ("what", "isolated")),
                            _connector="OR",
                        ),
                        name="keeping_change_known",
                    )
                ],
            },
        ),
        migrations.RunPython(guard, migrations.RunPython.noop),
    ]
