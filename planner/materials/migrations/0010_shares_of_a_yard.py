from decimal import ROUND_HALF_UP, Decimal

from django.db import migrations

#: A yard is 0.9144 m (NIST SP 811). Steps were kept to the centimetre, so an eighth came out this near.
_EIGHTH_M, _KEPT_WITHIN_M = Decimal("0.1143"), Decimal("0.005")


def to_eighths(apps, schema_editor):
    """In a workroom in inches, steps that are eighths of a yard but for the rounding become so exactly."""
    if not apps.get_model("materials", "Workroom").objects.filter(display="imperial").exists():
        return
    for fabric in apps.get_model("materials", "Fabric").objects.exclude(sold_by="kg"):
        step_m = fabric.pack_quantity
        exact_m = (step_m / _EIGHTH_M).quantize(Decimal(1), ROUND_HALF_UP) * _EIGHTH_M
        if exact_m and abs(exact_m - step_m) <= _KEPT_WITHIN_M:
            fabric.pack_quantity = exact_m
            fabric.save(update_fields=["pack_quantity"])


class Migration(migrations.Migration):
    dependencies = [("materials", "0009_steps_of_a_yard")]

    operations = [migrations.RunPython(to_eighths, migrations.RunPython.noop)]
