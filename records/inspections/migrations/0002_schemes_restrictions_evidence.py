import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records_inspections', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='defect',
            name='most_boards',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='defect',
            name='most_dry_kg',
            field=models.DecimalField(blank=True, decimal_places=1, max_digits=7, null=True),
        ),
        migrations.AddField(
            model_name='defect',
            name='no_entry',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='defect',
            name='part',
            field=models.CharField(blank=True, max_length=10),
        ),
        migrations.AddField(
            model_name='repair',
            name='contractor',
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddField(
            model_name='repair',
            name='cost',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True),
        ),
        migrations.AddField(
            model_name='repair',
            name='material',
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AlterField(
            model_name='inspection',
            name='kind',
            field=models.CharField(choices=[('pre_burn', 'before a burn'), ('post_burn', 'after a burn'), ('structural', 'structural, by the inspector'), ('periodic', 'periodic'), ('engineer', "engineer's"), ('lining', 'behind the lining')], max_length=12),
        ),
        migrations.CreateModel(
            name='Verification',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('checked', models.CharField(max_length=500)),
                ('holds', models.BooleanField()),
                ('done_at', models.DateTimeField()),
                ('recorded_at', models.DateTimeField()),
                ('defect', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='verifications', to='records_inspections.defect')),
                ('done_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['done_at', 'id'],
            },
        ),
    ]
