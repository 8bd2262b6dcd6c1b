from django.db import migrations, models
from django.db.models.functions import Coalesce


def fill_in(apps, schema_editor):
    """When each lot was last read, by its own readings, else by those of the lot it goes by."""
    readings = apps.get_model("records_stock", "MoistureReading").objects.order_by("-read_at")
    own = readings.filter(lot=models.OuterRef("lot")).values("read_at")[:1]
    other = readings.filter(lot__moisture_parts=models.OuterRef("lot")).values("read_at")[:1]
    apps.get_model("records_stock", "LotBalance").objects.update(
        read_at=Coalesce(models.Subquery(own), models.Subquery(other))
    )


class Migration(migrations.Migration):
    """Apart from 0009, because PostgreSQL alters no table that has rows still to be checked."""

    dependencies = [("records_stock", "0009_balance_says_when_read")]

    operations = [migrations.RunPython(fill_in, migrations.RunPython.noop)]
