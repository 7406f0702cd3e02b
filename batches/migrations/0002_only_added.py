"""Make the database refuse to change or delete what happened."""

from django.db import migrations

from batches.models.guards import create_guards, drop_guards


def forwards(apps, schema_editor):
    create_guards(schema_editor.connection)


def backwards(apps, schema_editor):
    drop_guards(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("batches", "0001_nouns")]
    operations = [migrations.RunPython(forwards, backwards)]
