from django.db import migrations

from clinic.platform.freeze import strike_only


class Migration(migrations.Migration):
    dependencies = [("preventive", "0001_doses_supplies_and_what_is_put_off")]

    operations = [
        # a veterinarian may rule later whether a doubtful dose counts
        strike_only("preventive_dose", "counted", "counted_reason", "counted_by_id"),
        strike_only("preventive_supply"),
        strike_only("preventive_treatmentgiven"),
        strike_only("preventive_decline"),
        strike_only("preventive_deferral"),
    ]
