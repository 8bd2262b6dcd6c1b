"""The columns and tables of the tree; 0003 fills them, 0004 drops what they replace."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records_audit', '0001_initial'),
    ]

    operations = [
        migrations.AddField(
            model_name='entry',
            name='body',
            field=models.TextField(default=''),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='entry',
            name='leaf',
            field=models.BinaryField(default=b'', max_length=32),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='loghead',
            name='frontier',
            field=models.BinaryField(default=b''),
        ),
        migrations.CreateModel(
            name='Disclosed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('place', models.CharField(max_length=60)),
                ('salt', models.BinaryField(max_length=16)),
                ('value', models.TextField()),
                ('entry', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='disclosed', to='records_audit.entry')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('entry', 'place'), name='one_text_in_each_place')],
            },
        ),
        migrations.CreateModel(
            name='Tile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('level', models.PositiveSmallIntegerField()),
                ('index', models.PositiveBigIntegerField()),
                ('root', models.BinaryField(max_length=32)),
                ('data', models.BinaryField(max_length=8192)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('level', 'index'), name='one_tile_a_place')],
            },
        ),
    ]
