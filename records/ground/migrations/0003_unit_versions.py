import datetime
import zoneinfo

import django.db.models.deletion
import facility.guarded
from django.conf import settings
from django.db import migrations, models


PARTS = {
    'Opening': ('openings', ('name', 'kind', 'side', 'x_m', 'y_m', 'width_m', 'height_m', 'sill_m')),
    'ChargePosition': ('positions', ('name', 'surface', 'x_m', 'length_m')),
    'Sensor': ('sensors', ('name', 'x_m', 'y_m', 'z_m')),
}


def first_versions(apps, schema_editor):
    """What units are is their first version, from the day they were commissioned."""
    version = apps.get_model('records_ground', 'UnitVersion')
    now = datetime.datetime.now(datetime.UTC)
    for unit in apps.get_model('facility_sites', 'Unit').objects.select_related('site'):
        make_up = {size: str(getattr(unit, size)) for size in ('length_m', 'width_m', 'height_m')}
        make_up |= {kind: [] for kind in ('compartments', 'baffles', 'linings')}
        for name, (kind, fields) in PARTS.items():
            rows = apps.get_model('facility_sites', name)._base_manager.filter(unit=unit).order_by('id')
            make_up[kind] = [
                {'key': row.public_id, **{each: _text(getattr(row, each)) for each in fields}}
                for row in rows
            ]
        zone = zoneinfo.ZoneInfo(unit.site.time_zone)
        version.objects.create(
            unit=unit, number=1, kind='commissioned', make_up=make_up,
            since=datetime.datetime.combine(unit.commissioned_on, datetime.time(), tzinfo=zone),
            limits={'max_people': unit.max_people, 'max_charge_kg': None, 'max_burns_day': None,
                    'cool_down_min': None},
            recorded_at=now,
        )


def _text(value):
    return None if value is None else str(value)


class Migration(migrations.Migration):

    dependencies = [
        ('facility_sites', '0003_make_up'),
        ('records_ground', '0002_standard_as_data'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='UnitVersion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=facility.guarded.new_public_id, editable=False, max_length=10, unique=True)),
                ('number', models.PositiveSmallIntegerField()),
                ('kind', models.CharField(choices=[('commissioned', 'commissioned'), ('modified', 'modified'), ('moved', 'moved'), ('relined', 'relined')], max_length=12)),
                ('since', models.DateTimeField()),
                ('what', models.CharField(blank=True, max_length=500)),
                ('document', models.CharField(blank=True, max_length=120)),
                ('make_up', models.JSONField()),
                ('limits', models.JSONField()),
                ('recorded_at', models.DateTimeField()),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='versions', to='facility_sites.unit')),
                ('written_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['number'],
                'constraints': [models.UniqueConstraint(fields=('unit', 'number'), name='version_once_a_unit')],
            },
        ),
        migrations.RunPython(first_versions, migrations.RunPython.noop),
    ]
