"""The ledger of exposure starts with the burns that were closed before it existed."""

from django.db import migrations

INSIDE = ("in_charge", "crew", "ignition", "observer", "learner")


def post(apps, schema_editor):
    exposure = apps.get_model("records_ground", "Exposure")
    attendance = apps.get_model("records_burns", "Attendance").objects.filter(
        burn__current__isnull=False, duty__in=INSIDE
    )
    seen = set()
    rows = attendance.select_related("burn__current").order_by("burn", "person")
    for place in rows.iterator():
        burn = place.burn
        if (burn.pk, place.person_id) in seen:
            continue
        seen.add((burn.pk, place.person_id))
        exposure.objects.create(
            site_id=burn.site_id, person_id=place.person_id, burn=burn.public_id,
            ignited_at=burn.ignited_at, ended_at=burn.current.ended_at,
            recorded_at=burn.current.written_at,
        )


class Migration(migrations.Migration):
    dependencies = [
        ("records_burns", "0001_initial"),
        ("records_ground", "0002_standard_as_data"),
    ]

    operations = [migrations.RunPython(post, migrations.RunPython.noop)]
