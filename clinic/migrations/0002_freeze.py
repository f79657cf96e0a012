from django.db import migrations

from clinic.platform.freeze import DROP_FUNCTIONS, FUNCTIONS, append_only, freeze_with_record, strike_only

FROZEN_TABLES = [
    "clinic_historyanswer",
    "clinic_givenathome",
    "clinic_headsup",
    "clinic_assessment",
    "clinic_planline",
    "clinic_medicine",
    "clinic_correction",
]

APPEND_ONLY_TABLES = [
    "clinic_letter",
    "clinic_letterfile",
    "clinic_addendum",
    "clinic_dataversion",
    "clinic_messagestep",
    "clinic_placestep",
    "clinic_planprogress",
]


class Migration(migrations.Migration):
    dependencies = [("clinic", "0001_initial")]

    operations = [
        migrations.RunSQL(FUNCTIONS, DROP_FUNCTIONS),
        migrations.RunSQL(
            "CREATE TRIGGER tailward_freeze_record BEFORE UPDATE OR DELETE ON clinic_record "
            "FOR EACH ROW EXECUTE FUNCTION tailward_freeze_record();",
            "DROP TRIGGER tailward_freeze_record ON clinic_record;",
        ),
        *[freeze_with_record(table) for table in FROZEN_TABLES],
        *[append_only(table) for table in APPEND_ONLY_TABLES],
        strike_only("clinic_measurement"),
        strike_only("clinic_testresult", "read_by_id", "read_at", "for_owner"),
    ]
