import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from clinic.platform.freeze import freeze_with_record


class Migration(migrations.Migration):
    dependencies = [
        ("clinic", "0004_lasting_facts_struck"),
    ]

    operations = [
        migrations.CreateModel(
            name="ChipScan",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "number",
                    models.CharField(blank=True, help_text="text as read; empty: none found", max_length=15),
                ),
                (
                    "answer",
                    models.CharField(
                        choices=[
                            ("matches", "on record of this patient"),
                            ("other", "on record of another patient"),
                            ("new", "on no record yet"),
                            ("none", "no chip found"),
                        ],
                        help_text="as it was at the scan",
                        max_length=8,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "record",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="chip_scans",
                        to="clinic.record",
                    ),
                ),
            ],
            options={
                "ordering": ["at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", "none"), ("number", "")),
                            models.Q(
                                models.Q(("answer", "none"), _negated=True),
                                models.Q(("number", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="a_chip_that_was_read_has_a_number",
                    )
                ],
            },
        ),
        freeze_with_record("clinic_chipscan"),
    ]
