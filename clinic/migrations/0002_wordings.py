import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from clinic.platform.migrations import MadeAtOnce


class Migration(MadeAtOnce):

    dependencies = [
        ('clinic', '0001_tables'),
    ]

    operations = [
        migrations.CreateModel(
            name='Wording',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('text', models.CharField(help_text='room:key', max_length=160)),
                ('language', models.CharField(max_length=8)),
                ('version', models.PositiveSmallIntegerField()),
                ('offered', models.TextField(blank=True, help_text='the correction it came from')),
                ('forms', models.JSONField(default=list, help_text='its plural forms, mostly one; none: declined')),
                ('instead_of', models.JSONField(default=list, help_text='what stood before')),
                ('reviewed', models.BooleanField(default=False, help_text='who adopted it reads this language: it needs no English beside it')),
                ('declined', models.BooleanField(default=False)),
                ('at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('declined', False), ('ended_at', None)), fields=('text', 'language'), name='one_wording_stands'), models.UniqueConstraint(fields=('text', 'language', 'version'), name='a_wording_version_once'), models.CheckConstraint(condition=models.Q(models.Q(('declined', True), ('forms', [])), models.Q(('declined', False), models.Q(('forms', []), _negated=True)), _connector='OR'), name='a_wording_says_something'), models.CheckConstraint(condition=models.Q(models.Q(('ended_at', None), ('ended_by', None)), models.Q(('ended_at__isnull', False), ('ended_by__isnull', False)), _connector='OR'), name='a_wording_is_ended_by_somebody')],
            },
        ),
        migrations.RemoveConstraint(
            model_name='knock',
            name='one_count_an_address_and_while',
        ),
        migrations.AddField(
            model_name='correction',
            name='form',
            field=models.PositiveSmallIntegerField(default=0, help_text='which plural form of it'),
        ),
        migrations.AddField(
            model_name='correction',
            name='language',
            field=models.CharField(default='en', help_text='of the words', max_length=8),
        ),
        migrations.AddField(
            model_name='correction',
            name='not_offered',
            field=models.CharField(blank=True, help_text='why it cannot become a text', max_length=200),
        ),
        migrations.AddField(
            model_name='correction',
            name='offered',
            field=models.TextField(blank=True, help_text='the words as a text, placeholders in braces'),
        ),
        migrations.AddField(
            model_name='correction',
            name='text',
            field=models.CharField(blank=True, help_text='room:key of the text it replaces; empty: it was none of ours', max_length=160),
        ),
        migrations.AddField(
            model_name='knock',
            name='what',
            field=models.CharField(default='owner-page', max_length=20),
        ),
        migrations.AddField(
            model_name='message',
            name='language',
            field=models.CharField(blank=True, help_text="of its words; empty: its letter's, or its owner's", max_length=8),
        ),
        migrations.AddConstraint(
            model_name='knock',
            constraint=models.UniqueConstraint(fields=('what', 'who', 'since'), name='one_count_an_address_and_while'),
        ),
    ]
