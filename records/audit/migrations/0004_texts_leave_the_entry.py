"""What is in the body, or erasable beside it, leaves the entry's own columns."""

from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ('records_audit', '0003_entries_into_the_tree'),
    ]

    operations = [
        migrations.RemoveField(model_name='entry', name='before'),
        migrations.RemoveField(model_name='entry', name='after'),
        migrations.RemoveField(model_name='entry', name='why'),
    ]
