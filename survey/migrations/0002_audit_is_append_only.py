"""The database itself refuses to change or delete an audit line."""

from django.db import migrations

SQLITE = [
    """CREATE TRIGGER audit_never_changed BEFORE UPDATE ON survey_entry
       BEGIN SELECT RAISE(ABORT, 'an audit line is never changed'); END""",
    """CREATE TRIGGER audit_never_deleted BEFORE DELETE ON survey_entry
       BEGIN SELECT RAISE(ABORT, 'an audit line is never deleted'); END""",
]
POSTGRESQL = [
    """CREATE FUNCTION audit_is_append_only() RETURNS trigger AS $$
       BEGIN RAISE EXCEPTION 'an audit line is never changed or deleted'
       USING ERRCODE = 'integrity_constraint_violation'; END $$ LANGUAGE plpgsql""",
    """CREATE TRIGGER audit_append_only BEFORE UPDATE OR DELETE ON survey_entry
       FOR EACH ROW EXECUTE FUNCTION audit_is_append_only()""",
]
BACK = {
    "sqlite": ["DROP TRIGGER audit_never_changed", "DROP TRIGGER audit_never_deleted"],
    "postgresql": [
        "DROP TRIGGER audit_append_only ON survey_entry",
        "DROP FUNCTION audit_is_append_only()",
    ],
}


def run(statements):
    def work(apps, editor):
        for statement in statements[editor.connection.vendor]:
            editor.execute(statement)

    return work


class Migration(migrations.Migration):
    dependencies = [("survey", "0001_the_record")]
    operations = [
        migrations.RunPython(run({"sqlite": SQLITE, "postgresql": POSTGRESQL}), run(BACK))
    ]
