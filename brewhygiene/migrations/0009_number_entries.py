from django.db import migrations


class Migration(migrations.Migration):
    """Number the entries that there are, in the order in which they were written."""

    dependencies = [
        ('brewhygiene', '0008_bind_rows_to_entries'),
    ]

    operations = [
        migrations.RunSQL(
            """
            UPDATE brewhygiene_entry SET number = counted.number FROM (
                SELECT id, row_number() OVER (ORDER BY id) AS number FROM brewhygiene_entry
            ) AS counted
            WHERE counted.id = brewhygiene_entry.id
            """,
            migrations.RunSQL.noop,
        ),
    ]
