from django.db import migrations

from clinic.platform.freeze import freeze_with_record


class Migration(migrations.Migration):
    dependencies = [("nutrition", "0001_foods_and_plans"), ("clinic", "0002_freeze")]

    operations = [freeze_with_record("nutrition_plan")]
