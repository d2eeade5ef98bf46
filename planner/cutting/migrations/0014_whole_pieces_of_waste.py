"""Needs of what is counted, kept with waste rounded up, hold waste to the nearest whole piece from now on."""

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP

from django.db import migrations


def round_waste(apps, schema_editor):
    """Where it is plain how many a batch takes before waste, and none was taken out of the stock for it yet."""
    needs = apps.get_model("cutting", "BatchNeed").objects.filter(
        notion_colour__notion__unit="pcs", notion_colour__notion__waste_percent__gt=0, taken=0
    )
    changed = []
    for row in needs.select_related("notion_colour__notion").iterator():
        share = row.notion_colour.notion.waste_percent / 100
        before = (row.need / (1 + share)).to_integral_value(ROUND_FLOOR)
        if (before * (1 + share)).to_integral_value(ROUND_CEILING) != row.need:
            continue  # the waste of the notion was another one then
        whole = before + (before * share).to_integral_value(ROUND_HALF_UP)
        if whole != row.need:
            row.need = whole
            changed.append(row)
    needs.model.objects.bulk_update(changed, ["need"], batch_size=200)


class Migration(migrations.Migration):
    dependencies = [("cutting", "0013_lay_without_usable_width"), ("materials", "0008_one_number_a_roll")]

    operations = [migrations.RunPython(round_waste, migrations.RunPython.noop)]
