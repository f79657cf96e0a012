from django.db import migrations

from clinic.platform.freeze import append_only, freeze_with_record

FROZEN_TABLES = ["exams_exam", "exams_operation", "exams_finding", "exams_lumpmeasure"]


class Migration(migrations.Migration):
    dependencies = [("exams", "0001_exams"), ("clinic", "0002_freeze")]

    operations = [*[freeze_with_record(table) for table in FROZEN_TABLES], append_only("exams_operation")]
