"""Make the tables of holds, drills, passports and calendar addresses; guard the event tables."""

import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models

from batches.models.guards import create_guards


def guard(apps, schema_editor):
    create_guards(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0006_tender_ferns"),
    ]

    operations = [
        migrations.CreateModel(
            name="AlarmDrill",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("begun_at", models.DateTimeField()),
                ("begun_by", models.CharField(max_length=80)),
                ("traced_from", models.CharField(max_length=160)),
                ("query", models.CharField(max_length=300)),
                ("standing", models.PositiveIntegerField()),
                ("recipients", models.PositiveIntegerField()),
                ("sent", models.PositiveIntegerField()),
                ("traced_ms", models.PositiveIntegerField()),
                ("adds_up", models.BooleanField()),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                ("finished_by", models.CharField(blank=True, default="", max_length=80)),
                ("found", models.PositiveIntegerField(blank=True, null=True)),
                ("missing", models.TextField(blank=True, default="")),
                ("note", models.CharField(blank=True, default="", max_length=300)),
            ],
            options={
                "ordering": ["-begun_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="CalendarAddress",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("token_hash", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField()),
                ("last_read_at", models.DateTimeField(blank=True, null=True)),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="calendars",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "calendar addresses",
                "ordering": ["-made_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="PassportIssue",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("by", models.CharField(blank=True, default="", max_length=80)),
                ("recorded_at", models.DateTimeField()),
                ("issued_at", models.DateTimeField(db_index=True)),
                ("form", models.CharField(max_length=2)),
                ("title", models.CharField(max_length=120)),
                ("a", models.CharField(max_length=160)),
                ("b", models.CharField(max_length=60)),
                ("c", models.CharField(db_index=True, max_length=32)),
                ("d", models.CharField(max_length=60)),
                ("e", models.CharField(blank=True, default="", max_length=60)),
                ("labels", models.PositiveIntegerField()),
                ("replaces", models.CharField(blank=True, default="", max_length=120)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="passports",
                        to="batches.batch",
                    ),
                ),
                (
                    "strikes_out",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="struck_by",
                        to="batches.passportissue",
                    ),
                ),
            ],
            options={
                "ordering": ["issued_at", "c", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("form__in", ["EU", "GB"])), name="passport_form_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("labels__gte", 1)), name="passport_on_a_label"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TrayHold",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("by", models.CharField(blank=True, default="", max_length=80)),
                ("recorded_at", models.DateTimeField()),
                ("alarm", models.UUIDField(db_index=True)),
                ("reason", models.CharField(max_length=300)),
                ("traced_from", models.CharField(max_length=160)),
                (
                    "strikes_out",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="struck_by",
                        to="batches.trayhold",
                    ),
                ),
                (
                    "tray",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="holds",
                        to="batches.tray",
                    ),
                ),
            ],
            options={
                "ordering": ["recorded_at", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="hold_says_why"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("strikes_out__isnull", True)),
                        fields=("alarm", "tray"),
                        name="tray_held_once_an_alarm",
                    ),
                ],
            },
        ),
        migrations.RunPython(guard, migrations.RunPython.noop),
    ]
