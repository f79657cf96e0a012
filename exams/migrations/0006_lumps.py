import uuid

import django.contrib.postgres.functions
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

from clinic.platform.freeze import freeze_with_record, strike_only

BY = {"on_delete": django.db.models.deletion.PROTECT, "related_name": "+", "to": settings.AUTH_USER_MODEL}


class Migration(migrations.Migration):
    dependencies = [
        ("exams", "0005_chart"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            "exam",
            "lumps",
            models.JSONField(blank=True, default=dict, help_text="a lump's id to what this exam says of it"),
        ),
        migrations.AddField(
            "lump",
            "key",
            models.UUIDField(
                db_default=django.contrib.postgres.functions.RandomUUID(),
                editable=False,
                help_text="made on the tablet that placed it",
                unique=True,
            ),
        ),
        migrations.AddField(
            "lump",
            "detail",
            models.CharField(
                blank=True, default="", help_text="finer than the region: toe 2, anal sac", max_length=40
            ),
            preserve_default=False,
        ),
        migrations.AddField(
            "lump",
            "first_seen_words",
            models.CharField(blank=True, default="", help_text="about, and who saw it", max_length=120),
            preserve_default=False,
        ),
        migrations.AddField(
            "lump",
            "withdrawn",
            models.BooleanField(
                default=False, help_text="placed by mistake and taken back; its number is not given again"
            ),
        ),
        migrations.AlterField(
            "lump", "x", models.FloatField(help_text="part of the drawing's width, 0 to 1")
        ),
        migrations.AlterField(
            "lump", "y", models.FloatField(help_text="part of its height, 0 to 1, downwards")
        ),
        migrations.AddField(
            "lumpmeasure",
            "said",
            models.CharField(
                choices=[
                    ("measured", "measured"),
                    ("gone", "gone"),
                    ("merged", "grown together"),
                    ("not-looked", "not looked at"),
                ],
                default="measured",
                max_length=10,
            ),
        ),
        migrations.AddField(
            "lumpmeasure",
            "words",
            models.CharField(
                blank=True,
                default="",
                help_text="how it went, or why it was not looked at",
                max_length=300,
            ),
            preserve_default=False,
        ),
        migrations.AlterField("lumpmeasure", "length_mm", models.FloatField(blank=True, null=True)),
        migrations.AlterField(
            "lumpmeasure",
            "method",
            models.CharField(blank=True, help_text="caliper, ruler or estimate", max_length=30),
        ),
        migrations.AlterField(
            "lumpmeasure",
            "description",
            models.JSONField(blank=True, default=dict, help_text="shape, surface, mobility, ..."),
        ),
        migrations.RemoveConstraint("lumpmeasure", "a_lump_has_a_length"),
        migrations.AddConstraint(
            "lumpmeasure",
            models.CheckConstraint(
                condition=Q(("length_mm__gt", 0), ("said", "measured"))
                | (~Q(("said", "measured")) & Q(("length_mm", None))),
                name="a_measured_lump_has_a_length",
            ),
        ),
        migrations.CreateModel(
            name="LumpSample",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("needle", "needle sample"),
                            ("biopsy", "biopsy"),
                            ("removed", "the whole lump, removed"),
                        ],
                        max_length=10,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("by", models.ForeignKey(**BY)),
                (
                    "lump",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="samples", to="exams.lump"
                    ),
                ),
                (
                    "record",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lump_samples",
                        to="clinic.record",
                    ),
                ),
            ],
            options={
                "ordering": ["lump", "at"],
                "constraints": [
                    models.UniqueConstraint(fields=("lump", "record"), name="a_lump_is_sampled_once_an_exam")
                ],
            },
        ),
        migrations.CreateModel(
            name="LumpResult",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("words", models.TextField(help_text="as reported")),
                ("entered_at", models.DateTimeField()),
                ("struck_at", models.DateTimeField(blank=True, null=True)),
                ("struck_reason", models.CharField(blank=True, max_length=200)),
                ("entered_by", models.ForeignKey(**BY)),
                (
                    "sample",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="results",
                        to="exams.lumpsample",
                    ),
                ),
                ("struck_by", models.ForeignKey(blank=True, null=True, **BY)),
                (
                    "test",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic.test",
                    ),
                ),
            ],
            options={"ordering": ["entered_at", "pk"]},
        ),
        freeze_with_record("exams_lumpsample"),
        strike_only("exams_lumpresult"),
    ]
