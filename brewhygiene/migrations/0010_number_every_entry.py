from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('brewhygiene', '0009_number_entries'),
    ]

    operations = [
        migrations.AlterField(
            model_name='entry',
            name='number',
            field=models.PositiveBigIntegerField(help_text='From 1, without a gap.', unique=True),
        ),
        migrations.AlterField(
            model_name='entry',
            name='format',
            field=models.PositiveSmallIntegerField(default=2, help_text='How its hash is made.'),
        ),
    ]
