from django.db import migrations, models


def fill_in(apps, schema_editor):
    """Where each lot lies, and the stock of each product; what came before had no cost."""
    balances = apps.get_model("records_stock", "LotBalance")
    lots = apps.get_model("records_stock", "Lot").objects.filter(pk=models.OuterRef("lot"))
    balances.objects.update(bay=models.Subquery(lots.values("bay")[:1]))
    stock = apps.get_model("records_stock", "ProductStock")
    on_hand = dict(
        balances.objects.values_list("lot__product").annotate(total=models.Sum("on_hand"))
    )
    stock.objects.bulk_create(
        stock(product_id=product, quantity=round(on_hand.get(product) or 0, 2))
        for product in apps.get_model("records_stock", "Product").objects.values_list("pk", flat=True)
    )


class Migration(migrations.Migration):
    """Apart from 0003, because PostgreSQL alters no table that has rows still to be checked."""

    dependencies = [("records_stock", "0004_movements_reserved_and_valued")]

    operations = [migrations.RunPython(fill_in, migrations.RunPython.noop)]
