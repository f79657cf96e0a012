import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from clinic.platform.freeze import append_only, freeze_with_record
from clinic.platform.migrations import MadeAtOnce


class Migration(MadeAtOnce):

    replaces = [('nutrition', '0001_foods_and_plans'), ('nutrition', '0002_freeze'), ('nutrition', '0003_what_was_chosen'), ('nutrition', '0004_grown_weight'), ('nutrition', '0005_food_versions')]

    initial = True

    dependencies = [
        ('clinic', '0001_tables'),
    ]

    operations = [
        migrations.CreateModel(
            name='FoodRow',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.SlugField(max_length=60, unique=True)),
                ('name', models.CharField(max_length=160)),
                ('body', models.JSONField(help_text="a food's facts as plain values")),
                ('retired_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='Plan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('fed', 'a plan'), ('keep', 'keep feeding as now until we call')], max_length=4)),
                ('content', models.JSONField(help_text='the composed plan')),
                ('energy_kcal', models.FloatField(blank=True, null=True)),
                ('target_weight_kg', models.FloatField(blank=True, null=True)),
                ('weigh_in_on', models.DateField(blank=True, null=True)),
                ('until', models.CharField(blank=True, help_text='for keep feeding: until when or what', max_length=200)),
                ('own_words', models.TextField(blank=True, help_text="the clinician's own advice, for the owner")),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('factors', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='clinic.dataversion')),
                ('record', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='feeding_plan', to='clinic.record')),
                ('asked', models.JSONField(default=dict, help_text='what was chosen beside it: stage, rules, week, litter')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('kind', 'fed'), _negated=True), ('energy_kcal__gt', 0), _connector='OR'), name='a_plan_has_energy'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'keep'), _negated=True), models.Q(('until', ''), _negated=True), _connector='OR'), name='keep_feeding_says_until_when')],
            },
        ),
        migrations.CreateModel(
            name='ExpectedGrownWeight',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('how', models.CharField(choices=[('asked', 'known, as told'), ('parents', 'from both parents'), ('breed', 'from the range of the breed')], max_length=8)),
                ('kg', models.FloatField()),
                ('low_kg', models.FloatField()),
                ('high_kg', models.FloatField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='expected_grown_weights', to='clinic.patient')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('high_kg__gte', models.F('kg')), ('low_kg__gt', 0), ('low_kg__lte', models.F('kg'))), name='a_grown_weight_lies_in_its_range')],
            },
        ),
        migrations.CreateModel(
            name='FoodVersion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField()),
                ('body', models.JSONField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('food', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='versions', to='nutrition.foodrow')),
            ],
            options={
                'ordering': ['-number'],
                'constraints': [models.UniqueConstraint(fields=('food', 'number'), name='a_food_version_once')],
            },
        ),
        freeze_with_record("nutrition_plan"),
        append_only("nutrition_expectedgrownweight"),
        append_only("nutrition_foodversion"),
    ]
