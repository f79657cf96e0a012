import django.db.models.deletion
import django.db.models.expressions
from django.conf import settings
from django.db import migrations, models

from clinic.platform.freeze import append_only
from clinic.platform.migrations import MadeAtOnce

# Whatever the due list is reckoned from names whom it touches, in its own transaction (`callbacks/totals.py`).
CHANGED = """
CREATE FUNCTION tailward_due_changed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    kept jsonb := CASE WHEN TG_OP <> 'INSERT' THEN to_jsonb(OLD) END;
    given jsonb := CASE WHEN TG_OP <> 'DELETE' THEN to_jsonb(NEW) END;
BEGIN
    IF TG_OP = 'UPDATE' AND kept - 'refreshed_at' = given - 'refreshed_at' THEN
        RETURN NULL;
    END IF;
    IF TG_ARGV[0] = 'taken-back' THEN
        INSERT INTO clinic_duechange (owner_id) SELECT owner_id FROM clinic_asking WHERE id = NEW.asking_id;
        RETURN NULL;
    END IF;
    INSERT INTO clinic_duechange (owner_id, patient_id)
        SELECT DISTINCT (said ->> TG_ARGV[0])::bigint, (said ->> TG_ARGV[1])::bigint
        FROM unnest(ARRAY[kept, given]) AS said WHERE said IS NOT NULL;
    RETURN NULL;
END $$;
"""
WATCHED = (
    ("clinic_callback", "", "patient_id"),
    ("clinic_patient", "", "id"),
    ("clinic_ownership", "owner_id", "patient_id"),
    ("clinic_owner", "id", ""),
    ("clinic_phone", "owner_id", ""),
    ("clinic_visit", "", "patient_id"),
    ("clinic_nextvisit", "", "patient_id"),
    ("clinic_asking", "owner_id", ""),
    ("clinic_askeditem", "", "patient_id"),
    ("clinic_reminderstop", "owner_id", ""),
    ("clinic_askingtakenback", "taken-back", ""),
)


def watched(table: str, owner: str, patient: str) -> migrations.RunSQL:
    return migrations.RunSQL(
        f"CREATE TRIGGER tailward_due_changed AFTER INSERT OR UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION tailward_due_changed('{owner}', '{patient}');",
        f"DROP TRIGGER tailward_due_changed ON {table};",
    )


class Migration(MadeAtOnce):

    dependencies = [
        ('clinic', '0002_wordings'),
    ]

    operations = [
        migrations.CreateModel(
            name='AskingTakenBack',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('asking', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='taken_back', to='clinic.asking')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='DueChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('owner_id', models.BigIntegerField(null=True)),
                ('patient_id', models.BigIntegerField(null=True)),
            ],
        ),
        migrations.CreateModel(
            name='DueTotals',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('made_at', models.DateTimeField()),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='one_day_of_totals')],
            },
        ),
        migrations.CreateModel(
            name='HouseholdDue',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('why', models.CharField(blank=True, max_length=14)),
                ('reach', models.CharField(max_length=10)),
                ('things', models.PositiveIntegerField()),
                ('patients', models.PositiveIntegerField()),
                ('owner', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='clinic.owner')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('owner', 'why'), name='a_household_s_sum_once')],
            },
        ),
        migrations.CreateModel(
            name='KeptView',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('asked_for', models.CharField(blank=True, help_text='the filters as the address has them', max_length=400)),
                ('made_at', models.DateTimeField()),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('of', models.ForeignKey(blank=True, help_text="nobody: everybody's", null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['name', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('of', 'name'), name='a_view_s_name_once', nulls_distinct=False), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='a_kept_view_has_a_name')],
            },
        ),
        migrations.CreateModel(
            name='OverdueTally',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('what', models.CharField(max_length=160)),
                ('things', models.PositiveIntegerField()),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('day', 'what'), name='a_tally_once_a_day')],
            },
        ),
        migrations.CreateModel(
            name='Unasked',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('source', models.CharField(max_length=20)),
                ('key', models.CharField(max_length=80)),
                ('label', models.CharField(max_length=160)),
                ('due_on', models.DateField()),
                ('step', models.SmallIntegerField(help_text='days from the due date')),
                ('why', models.CharField(choices=[('held-out', 'held out to compare'), ('no-mail', 'not reached by e-mail')], max_length=8)),
                ('at', models.DateTimeField()),
                ('owner', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='clinic.owner')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='clinic.patient')),
            ],
            options={
                'indexes': [models.Index(fields=['at'], name='clinic_unas_at_8ace07_idx')],
                'constraints': [models.UniqueConstraint(fields=('patient', 'source', 'key', 'due_on', 'step'), name='unasked_once_a_step')],
            },
        ),
        migrations.AddField(
            model_name='asking',
            name='number',
            field=models.CharField(blank=True, help_text='the wrong number that was dialled', max_length=40),
        ),
        migrations.AddField(
            model_name='asking',
            name='text',
            field=models.CharField(blank=True, help_text='which words asked, as did-it-help names them', max_length=64),
        ),
        migrations.AddField(
            model_name='askingplan',
            name='paused_at',
            field=models.DateTimeField(blank=True, help_text='since when it is as it is', null=True),
        ),
        migrations.AddField(
            model_name='askingplan',
            name='paused_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='callback',
            name='never',
            field=models.BooleanField(default=False, help_text='long due by age alone: nothing of it is recorded'),
        ),
        migrations.AddField(
            model_name='remindersettings',
            name='paused_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='callback',
            name='may_wait',
            field=models.BooleanField(default=False, help_text='harmless enough to be held out from asking'),
        ),
        migrations.AddField(
            model_name='remindersettings',
            name='hold_out',
            field=models.PositiveSmallIntegerField(default=0, help_text='of 100 households, how many are not asked about harmless things, to compare'),
        ),
        migrations.AddField(
            model_name='remindersettings',
            name='paused_at',
            field=models.DateTimeField(blank=True, help_text='since when it is as it is', null=True),
        ),
        migrations.AlterField(
            model_name='asking',
            name='outcome',
            field=models.CharField(choices=[('not-reached', 'not reached'), ('wrong-number', 'wrong number'), ('asked', 'asked, no answer yet'), ('will-call', 'reached, they will call us'), ('will-come', 'reached, will come'), ('booked', 'reached, booked'), ('elsewhere', 'reached, done elsewhere as they say'), ('moved', 'has moved away, as they say'), ('died', 'has died, as they say')], max_length=14),
        ),
        migrations.AddConstraint(
            model_name='remindersettings',
            constraint=models.CheckConstraint(condition=models.Q(('hold_out__lte', 50)), name='at_least_half_are_asked'),
        ),
        migrations.AddField(
            model_name='callback',
            name='listed_on',
            field=models.GeneratedField(db_persist=True, expression=models.Case(models.When(never=True, then=django.db.models.expressions.CombinedExpression(models.F('due_on'), '+', models.Value(73050), output_field=models.DateField())), default=models.F('due_on')), help_text='its place in the list: what was never recorded stands behind all that was', output_field=models.DateField()),
        ),
        migrations.AddIndex(
            model_name='callback',
            index=models.Index(fields=['listed_on', 'patient'], name='call_back_listed'),
        ),
        append_only('clinic_askingtakenback'),
        append_only('clinic_unasked'),
        migrations.RunSQL(CHANGED, 'DROP FUNCTION tailward_due_changed();'),
        *[watched(*each) for each in WATCHED],
    ]
