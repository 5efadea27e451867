from django.db import migrations

from brewhygiene.quantities.sorting import natural_key

NAMED = (
    ("Agent", "name"),
    ("AtpTest", "name"),
    ("AtpTestLot", "lot"),
    ("Beer", "name"),
    ("Customer", "name"),
    ("LoggerMapping", "name"),
    ("Meter", "name"),
    ("Regime", "name"),
    ("Vessel", "name"),
)


def fill(apps, schema_editor):
    for model, source in NAMED:
        rows = apps.get_model("brewhygiene", model)._default_manager
        for pk, name in rows.values_list("pk", source):
            rows.filter(pk=pk).update(sort_key=natural_key(name))


class Migration(migrations.Migration):

    dependencies = [("brewhygiene", "0017_start_as_it_stands")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
