from datetime import date

from django.db import migrations, models
from django.db.models import Q

from clinic.platform.migrations import MadeAtOnce


class Migration(MadeAtOnce):
    dependencies = [
        ("clinic", "0005_call_backs_by_name"),
    ]

    operations = [
        # sums without a day say nothing: the worker makes all of them anew, and till then all rows are read
        migrations.RunSQL(
            "DELETE FROM clinic_householddue; DELETE FROM clinic_duetotals;", migrations.RunSQL.noop
        ),
        migrations.AddField(
            model_name="householddue",
            name="since",
            field=models.DateField(
                default=date(1, 1, 1), help_text="the first of their places in the list (CallBack.listed_on)"
            ),
            preserve_default=False,
        ),
        migrations.AddIndex(
            model_name="householddue",
            index=models.Index(fields=["why", "reach", "since", "owner"], name="household_due_by_reach"),
        ),
        migrations.AddIndex(
            model_name="householddue",
            index=models.Index(fields=["why", "since", "owner"], name="household_due_listed"),
        ),
        migrations.AddIndex(
            model_name="householddue",
            index=models.Index(
                fields=["since", "owner"], condition=~Q(why=""), name="household_due_left_out"
            ),
        ),
        # what owners said by a reminder's link leaves a thing out, as an asking does
        migrations.RunSQL(
            "CREATE TRIGGER tailward_due_changed AFTER INSERT OR UPDATE OR DELETE ON clinic_answer "
            "FOR EACH ROW EXECUTE FUNCTION tailward_due_changed('owner_id', 'patient_id');",
            "DROP TRIGGER tailward_due_changed ON clinic_answer;",
        ),
    ]
