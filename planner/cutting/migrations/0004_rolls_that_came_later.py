from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import F

#: Until now the positions of rolls that came later began here.
FROM_HERE = 1000


def into_a_column(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    rolls = apps.get_model("cutting", "LayRoll").objects
    rolls.filter(position__gte=FROM_HERE).update(came_later=True, position=F("position") - FROM_HERE)


def into_positions(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    rolls = apps.get_model("cutting", "LayRoll").objects
    rolls.filter(came_later=True).update(position=F("position") + FROM_HERE)


class Migration(migrations.Migration):
    dependencies = [("cutting", "0003_cut_plans_and_rolls")]

    operations = [
        migrations.AddField(
            model_name="layroll",
            name="came_later",
            field=models.BooleanField(
                default=False, help_text="was cloth to be bought when the bundles were given their plies"
            ),
        ),
        migrations.RunPython(into_a_column, into_positions),
    ]
