"""Private rows are given by PostgreSQL itself to their owner alone; see ``oneonone.models.rows_of``."""

from django.db import migrations

TABLES = {
    "oneonone_marginnote": "owner_id",
    "oneonone_logbookentry": "owner_id",
    "oneonone_preparation": "owner_id",
    "oneonone_commitmentplan": "owner_id",
    "oneonone_busyweek": "owner_id",
    "oneonone_personkey": "person_id",
}


def enable(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    for table, owner in TABLES.items():
        # Forced, because the server owns its tables, and an owner would otherwise pass by. Empty is what the
        # setting reads as once a transaction that had set it is over.
        schema_editor.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        schema_editor.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
        schema_editor.execute(
            f"CREATE POLICY {table}_of_reader ON {table}"
            f" USING ({owner} = nullif(current_setting('oneonone.person', true), '')::uuid)"
        )


def disable(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    for table in TABLES:
        schema_editor.execute(f"DROP POLICY {table}_of_reader ON {table}")
        schema_editor.execute(f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY")
        schema_editor.execute(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0001_initial")]
    operations = [migrations.RunPython(enable, disable, elidable=False)]
