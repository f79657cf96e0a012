import django.db.models.deletion
import django.db.models.functions.text
import uuid
from django.conf import settings
from django.db import migrations, models

from clinic.platform.freeze import append_only, close_with_record
from clinic.platform.migrations import MadeAtOnce


class Migration(MadeAtOnce):

    dependencies = [
        ('clinic', '0001_tables'),
        ('clinic', '__first__'),
        ('exams', '0001_tables'),
    ]

    operations = [
        migrations.AddField(
            model_name='exam',
            name='talk_agreed',
            field=models.JSONField(blank=True, default=dict, help_text='that the owner agrees to keeping the words: who noted it, and when'),
        ),
        migrations.AddField(
            model_name='exam',
            name='talk_changes',
            field=models.PositiveIntegerField(default=0, help_text='grows with every change of what was said and heard'),
        ),
        migrations.AddField(
            model_name='finding',
            name='spoken',
            field=models.BooleanField(default=False, help_text='confirmed from what was said aloud'),
        ),
        migrations.CreateModel(
            name='TalkChoice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('keeps', models.BooleanField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='HeardItem',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('kind', models.CharField(choices=[('line', 'an answer of one line'), ('measurement', 'a number'), ('heads-up', 'a heads-up'), ('plan', 'a line of the plan'), ('question', 'said twice, differently')], max_length=12)),
                ('station', models.CharField(blank=True, max_length=3)),
                ('said', models.JSONField(help_text='as exams.talk_items.Item has it')),
                ('identity', models.CharField(help_text='SHA-256 of kind and what was said', max_length=64)),
                ('spans', models.JSONField(default=list, help_text='[id of a line, start, end], the words it stands on')),
                ('confidence', models.FloatField(default=0)),
                ('reason', models.TextField(blank=True)),
                ('state', models.CharField(choices=[('open', 'open'), ('confirmed', 'confirmed'), ('discarded', 'discarded'), ('answered', 'recorded by hand')], default='open', max_length=10)),
                ('decided_at', models.DateTimeField(blank=True, null=True)),
                ('operation', models.UUIDField(blank=True, help_text='the tap that entered it', null=True)),
                ('decided_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('exam', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='heard', to='exams.exam')),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='clinic.record')),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('state', 'open')), fields=('exam', 'identity'), name='a_thing_heard_is_asked_once'), models.CheckConstraint(condition=models.Q(models.Q(('decided_by', None), ('state__in', ('open', 'answered'))), models.Q(('decided_at__isnull', False), ('decided_by__isnull', False), ('state__in', ('confirmed', 'discarded'))), _connector='OR'), name='a_thing_heard_is_decided_by_somebody'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'confirmed'), _negated=True), ('operation__isnull', False), _connector='OR'), name='a_thing_heard_is_confirmed_by_a_tap')],
            },
        ),
        migrations.CreateModel(
            name='SpokenForm',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('finding', 'a finding'), ('normal', 'normal'), ('structure', 'the name of a structure'), ('mishearing', 'misheard words')], max_length=10)),
                ('words', models.CharField(help_text='as dictation writes them', max_length=200)),
                ('means', models.CharField(help_text='a code of the walk, or the words that were meant', max_length=200)),
                ('language', models.CharField(default='en', max_length=8)),
                ('heard_as', models.CharField(blank=True, help_text='what had been proposed', max_length=400)),
                ('recorded_as', models.CharField(blank=True, help_text='what the clinician recorded', max_length=400)),
                ('state', models.CharField(choices=[('candidate', 'waits'), ('accepted', 'listened for'), ('declined', 'not taken'), ('withdrawn', 'withdrawn')], default='candidate', max_length=10)),
                ('noted_at', models.DateTimeField()),
                ('decided_at', models.DateTimeField(blank=True, null=True)),
                ('decided_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-noted_at', '-pk'],
                'constraints': [models.UniqueConstraint(models.F('language'), models.F('kind'), django.db.models.functions.text.Lower('words'), models.F('means'), name='a_spoken_form_stands_once'), models.CheckConstraint(condition=models.Q(models.Q(('decided_at', None), ('decided_by', None), ('state', 'candidate')), models.Q(models.Q(('state', 'candidate'), _negated=True), ('decided_at__isnull', False), ('decided_by__isnull', False)), _connector='OR'), name='a_spoken_form_is_decided_by_somebody'), models.CheckConstraint(condition=models.Q(models.Q(('words', ''), _negated=True), models.Q(('means', ''), _negated=True)), name='a_spoken_form_says_something')],
            },
        ),
        migrations.CreateModel(
            name='TalkLine',
            fields=[
                ('id', models.UUIDField(editable=False, help_text='the key of the operation that said it', primary_key=True, serialize=False)),
                ('number', models.PositiveIntegerField(help_text='order of arrival within the exam')),
                ('text', models.TextField()),
                ('language', models.CharField(default='en', max_length=8)),
                ('made_at', models.CharField(help_text="the device's time with its offset, as sent", max_length=40)),
                ('by', models.ForeignKey(help_text='who spoke', on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('exam', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='talk', to='exams.exam')),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='clinic.record')),
            ],
            options={
                'ordering': ['exam', 'number'],
                'constraints': [models.UniqueConstraint(fields=('exam', 'number'), name='what_is_said_has_an_order'), models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='a_line_of_talk_has_words')],
            },
        ),
        migrations.CreateModel(
            name='TalkRecording',
            fields=[
                ('id', models.UUIDField(editable=False, help_text='made on the tablet: sent twice, kept once', primary_key=True, serialize=False)),
                ('language', models.CharField(default='en', max_length=8)),
                ('file', models.CharField(blank=True, help_text='its name in the folder; empty: deleted', max_length=80)),
                ('received_at', models.DateTimeField()),
                ('state', models.CharField(choices=[('waiting', 'waits'), ('done', 'done'), ('failed', 'failed')], default='waiting', max_length=8)),
                ('why', models.CharField(blank=True, help_text='what went wrong, in a sentence', max_length=300)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('exam', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='exams.exam')),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='clinic.record')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('state', 'waiting'), ('file', ''), _connector='OR'), name='sound_is_deleted_once_listened_to')],
            },
        ),
        close_with_record("exams_talkline"),
        close_with_record("exams_hearditem"),
        append_only("exams_talkchoice"),
    ]
