"""Name models and fields by the trade's words: ATP tests with their lots, and logger files.

Constraints that name a renamed field are dropped first and made again after: a rename does not
reach into them.
"""

from django.db import migrations, models
from django.db.models import F, Q


class Migration(migrations.Migration):

    dependencies = [
        ('brewhygiene', '0003_find_fills_without_release'),
    ]

    operations = [
        migrations.RemoveConstraint(model_name='sticklot', name='stick_lot_once'),
        migrations.RemoveConstraint(model_name='limitset', name='one_set_in_force_per_point'),
        migrations.RemoveConstraint(model_name='limitset', name='one_set_in_force_for_all_points'),
        migrations.RemoveConstraint(model_name='bridge', name='bridge_joins_two_scales'),
        migrations.RemoveConstraint(model_name='pointstanding', name='one_standing_per_scale'),
        migrations.RenameModel(old_name='StickType', new_name='AtpTest'),
        migrations.RenameModel(old_name='StickLot', new_name='AtpTestLot'),
        migrations.RenameModel(old_name='Trace', new_name='LoggerFile'),
        migrations.RenameModel(old_name='TraceMapping', new_name='LoggerMapping'),
        migrations.RenameField(model_name='atptestlot', old_name='stick_type', new_name='atp_test'),
        migrations.RenameField(model_name='limitset', old_name='stick_type', new_name='atp_test'),
        migrations.RenameField(model_name='baseline', old_name='stick_type', new_name='atp_test'),
        migrations.RenameField(model_name='chartphase', old_name='stick_type', new_name='atp_test'),
        migrations.RenameField(model_name='pointstanding', old_name='stick_type', new_name='atp_test'),
        migrations.RenameField(model_name='bridge', old_name='new_stick_type', new_name='new_atp_test'),
        migrations.RenameField(model_name='bridge', old_name='reference_stick_type', new_name='reference_atp_test'),
        migrations.RenameField(model_name='result', old_name='stick_lot', new_name='test_lot'),
        migrations.RenameField(model_name='stepreading', old_name='trace', new_name='logger_file'),
        migrations.AlterField(
            model_name='loggerfile',
            name='clean',
            field=models.ForeignKey(on_delete=models.PROTECT, related_name='logger_files', to='brewhygiene.clean'),
        ),
        migrations.AddConstraint(
            model_name='atptestlot',
            constraint=models.UniqueConstraint(fields=['atp_test', 'lot'], name='test_lot_once'),
        ),
        migrations.AddConstraint(
            model_name='limitset',
            constraint=models.UniqueConstraint(condition=Q(approved_at__isnull=False, retired_at__isnull=True), fields=('meter', 'atp_test', 'sample_kind', 'point'), name='one_set_in_force_per_point'),
        ),
        migrations.AddConstraint(
            model_name='limitset',
            constraint=models.UniqueConstraint(condition=Q(approved_at__isnull=False, point__isnull=True, retired_at__isnull=True), fields=('meter', 'atp_test', 'sample_kind'), name='one_set_in_force_for_all_points'),
        ),
        migrations.AddConstraint(
            model_name='bridge',
            constraint=models.CheckConstraint(condition=~Q(reference_meter=F('new_meter')) | ~Q(reference_atp_test=F('new_atp_test')), name='bridge_joins_two_scales'),
        ),
        migrations.AddConstraint(
            model_name='pointstanding',
            constraint=models.UniqueConstraint(fields=('point', 'meter', 'atp_test'), name='one_standing_per_scale'),
        ),
    ]
