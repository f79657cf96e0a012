import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from clinic.platform.migrations import MadeAtOnce


class Migration(MadeAtOnce):

    dependencies = [
        ('clinic', '0003_call_back_desk'),
    ]

    operations = [
        migrations.AddField(
            model_name='askingplan',
            name='words_in',
            field=models.JSONField(blank=True, default=dict, help_text='the same in other languages: {“es”: {“before”: …, “after”: …}}'),
        ),
        migrations.CreateModel(
            name='Answer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('source', models.CharField(blank=True, help_text='empty: the animal as a whole', max_length=20)),
                ('key', models.CharField(blank=True, max_length=80)),
                ('label', models.CharField(blank=True, max_length=160)),
                ('due_on', models.DateField(blank=True, null=True)),
                ('kind', models.CharField(choices=[('book', 'asks for a day'), ('elsewhere', 'done elsewhere, as they say'), ('died', 'has died, as they say'), ('moved', 'moved away, as they say'), ('given-away', 'lives with somebody else, as they say')], max_length=12)),
                ('words', models.CharField(blank=True, max_length=280)),
                ('done_on', models.DateField(blank=True, null=True)),
                ('proof', models.CharField(blank=True, help_text="the kept file's name", max_length=80)),
                ('at', models.DateTimeField()),
                ('settled_at', models.DateTimeField(blank=True, null=True)),
                ('settled_how', models.CharField(blank=True, max_length=160)),
                ('undone_at', models.DateTimeField(blank=True, null=True)),
                ('message', models.ForeignKey(help_text='the reminder they answered', on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='clinic.message')),
                ('owner', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='clinic.owner')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='clinic.patient')),
                ('settled_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('undone_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['at', 'pk'],
                'indexes': [models.Index(condition=models.Q(('undone_at', None)), fields=['patient'], name='answer_that_counts'), models.Index(condition=models.Q(('settled_at', None), ('undone_at', None)), fields=['at'], name='answer_that_waits')],
                'constraints': [models.UniqueConstraint(condition=models.Q(('undone_at', None)), fields=('message', 'patient', 'source', 'key'), name='a_thing_is_answered_once'), models.CheckConstraint(condition=models.Q(models.Q(('due_on__isnull', False), ('kind__in', ['book', 'elsewhere']), models.Q(('source', ''), _negated=True), models.Q(('key', ''), _negated=True)), models.Q(('due_on', None), ('key', ''), ('kind__in', ['died', 'moved', 'given-away']), ('source', '')), _connector='OR'), name='an_answer_is_of_a_thing_or_an_animal'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'elsewhere'), _negated=True), ('done_on__isnull', False), _connector='OR'), name='done_elsewhere_has_a_day'), models.CheckConstraint(condition=models.Q(models.Q(('undone_at', None), ('undone_by', None)), models.Q(('undone_at__isnull', False), ('undone_by__isnull', False)), _connector='OR'), name='an_answer_is_taken_back_by_somebody')],
            },
        ),
        migrations.CreateModel(
            name='PostRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('households', models.PositiveIntegerField()),
                ('content', models.TextField(help_text='the letters as HTML for the sheet of paper')),
                ('paper', models.CharField(max_length=6)),
                ('sha256', models.CharField(blank=True, help_text='of the PDF, once it is made', max_length=64)),
                ('pages', models.PositiveIntegerField(default=0)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('pages', 0), ('sha256', '')), models.Q(models.Q(('sha256', ''), _negated=True), ('pages__gt', 0)), _connector='OR'), name='printed_post_has_pages')],
            },
        ),
    ]
