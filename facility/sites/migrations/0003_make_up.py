import django.db.models.deletion
import facility.guarded
from django.db import migrations, models


def name_and_place(apps, schema_editor):
    """Parts that were there before get a key of their own, and openings the wall they are in."""
    for name in ('Opening', 'Sensor'):
        model = apps.get_model('facility_sites', name)
        for part in model._base_manager.select_related('unit'):
            given = {'public_id': facility.guarded.new_public_id()}
            if name == 'Opening':
                at_the_end = part.x_m >= part.unit.length_m
                given['side'] = 'roof' if part.kind == 'vent' else 'front' if at_the_end else 'right'
            model._base_manager.filter(pk=part.pk).update(**given)


class Migration(migrations.Migration):

    dependencies = [
        ('facility_sites', '0002_currency_and_count_limits'),
    ]

    operations = [
        migrations.CreateModel(
            name='Baffle',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=facility.guarded.new_public_id, editable=False, max_length=10, unique=True)),
                ('name', models.CharField(max_length=40)),
                ('fitted', models.BooleanField(default=True)),
                ('x_m', models.DecimalField(decimal_places=2, max_digits=5)),
                ('y_m', models.DecimalField(decimal_places=2, max_digits=5)),
                ('width_m', models.DecimalField(decimal_places=2, max_digits=5)),
                ('z_m', models.DecimalField(decimal_places=2, max_digits=4)),
                ('height_m', models.DecimalField(decimal_places=2, max_digits=4)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='Compartment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=facility.guarded.new_public_id, editable=False, max_length=10, unique=True)),
                ('name', models.CharField(max_length=40)),
                ('fitted', models.BooleanField(default=True)),
                ('x_m', models.DecimalField(decimal_places=2, max_digits=5)),
                ('y_m', models.DecimalField(decimal_places=2, max_digits=5)),
                ('length_m', models.DecimalField(decimal_places=2, max_digits=5)),
                ('width_m', models.DecimalField(decimal_places=2, max_digits=5)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='Lining',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=facility.guarded.new_public_id, editable=False, max_length=10, unique=True)),
                ('name', models.CharField(max_length=40)),
                ('fitted', models.BooleanField(default=True)),
                ('surface', models.CharField(choices=[('ceiling', 'ceiling'), ('rear', 'burn end'), ('left', 'left wall'), ('right', 'right wall'), ('front', 'door end'), ('floor', 'floor')], max_length=8)),
                ('thickness_mm', models.DecimalField(decimal_places=1, max_digits=5)),
                ('x_m', models.DecimalField(decimal_places=2, max_digits=5)),
                ('length_m', models.DecimalField(decimal_places=2, max_digits=5)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AlterModelOptions(
            name='opening',
            options={'ordering': ['id']},
        ),
        migrations.AlterModelOptions(
            name='sensor',
            options={'ordering': ['id']},
        ),
        migrations.RemoveConstraint(
            model_name='chargeposition',
            name='position_in_unit',
        ),
        migrations.AddField(
            model_name='chargeposition',
            name='fitted',
            field=models.BooleanField(default=True),
        ),
        migrations.AddField(
            model_name='opening',
            name='fitted',
            field=models.BooleanField(default=True),
        ),
        migrations.AddField(
            model_name='opening',
            name='public_id',
            field=models.CharField(default='', editable=False, max_length=10),
        ),
        migrations.AddField(
            model_name='opening',
            name='side',
            field=models.CharField(choices=[('front', 'door end'), ('rear', 'burn end'), ('left', 'left wall'), ('right', 'right wall'), ('roof', 'roof'), ('inner', 'between compartments')], default='', max_length=6),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='opening',
            name='y_m',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True),
        ),
        migrations.AddField(
            model_name='sensor',
            name='fitted',
            field=models.BooleanField(default=True),
        ),
        migrations.AddField(
            model_name='sensor',
            name='public_id',
            field=models.CharField(default='', editable=False, max_length=10),
        ),
        migrations.AddField(
            model_name='sensor',
            name='y_m',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True),
        ),
        migrations.AddField(
            model_name='unit',
            name='cool_down_min',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='unit',
            name='handover_document',
            field=models.CharField(blank=True, max_length=120),
        ),
        migrations.AddField(
            model_name='unit',
            name='max_burns_day',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='unit',
            name='max_charge_kg',
            field=models.DecimalField(blank=True, decimal_places=1, max_digits=7, null=True),
        ),
        migrations.AlterField(
            model_name='opening',
            name='kind',
            field=models.CharField(choices=[('door', 'door'), ('window', 'window'), ('vent', 'roof vent'), ('hatch', 'roof hatch')], max_length=10),
        ),
        migrations.AddConstraint(
            model_name='chargeposition',
            constraint=models.UniqueConstraint(condition=models.Q(('fitted', True)), fields=('unit', 'name'), name='position_in_unit'),
        ),
        migrations.AddField(
            model_name='baffle',
            name='unit',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='baffles', to='facility_sites.unit'),
        ),
        migrations.AddField(
            model_name='compartment',
            name='unit',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='compartments', to='facility_sites.unit'),
        ),
        migrations.AddField(
            model_name='lining',
            name='unit',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='linings', to='facility_sites.unit'),
        ),
        migrations.RunPython(name_and_place, migrations.RunPython.noop),
        migrations.AlterField(
            model_name='opening',
            name='public_id',
            field=models.CharField(default=facility.guarded.new_public_id, editable=False, max_length=10, unique=True),
        ),
        migrations.AlterField(
            model_name='sensor',
            name='public_id',
            field=models.CharField(default=facility.guarded.new_public_id, editable=False, max_length=10, unique=True),
        ),
    ]
