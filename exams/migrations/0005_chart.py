from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("exams", "0004_presence")]

    operations = [
        migrations.AlterField(
            model_name="exam",
            name="awake",
            field=models.CharField(blank=True, help_text="awake, sedated, anaesthetised", max_length=13),
        ),
        migrations.AddField(
            model_name="exam",
            name="awake_log",
            field=models.JSONField(blank=True, default=list, help_text="since when, and with what"),
        ),
        migrations.AddField(
            model_name="finding",
            name="made_in",
            field=models.CharField(blank=True, help_text="awake, sedated, anaesthetised", max_length=13),
        ),
        migrations.AddField(
            model_name="finding",
            name="charted",
            field=models.JSONField(blank=True, default=dict, help_text="of a tooth, see exams.tooth_chart"),
        ),
    ]
