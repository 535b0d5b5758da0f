"""Rules of minutes, and what a reason does, by date; what was known holds since ever."""

import datetime
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('accounts', '0003_given_passwords_end'),
        ('caseload', '0012_services_by_parts_of_the_year'),
    ]

    operations = [
        migrations.CreateModel(
            name='ReasonEffect',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('first_day', models.DateField(help_text='The first date of a session that it holds for.')),
                ('effect', models.CharField(choices=[('owed', 'Stays owed'), ('not_owed', 'Not owed'), ('team_decides', 'The team decides')], max_length=12)),
            ],
            options={
                'verbose_name': 'effect of a reason',
                'verbose_name_plural': 'effects of a reason',
                'ordering': ['reason', 'first_day'],
            },
        ),
        migrations.AlterModelOptions(
            name='ledgersettings',
            options={'ordering': ['-first_day'], 'verbose_name': 'rules of the ledger', 'verbose_name_plural': 'rules of the ledger'},
        ),
        migrations.RemoveConstraint(
            model_name='ledgersettings',
            name='ledger_settings_once',
        ),
        migrations.AddField(
            model_name='ledgersettings',
            name='first_day',
            field=models.DateField(default=datetime.date(2000, 1, 1), help_text='The first day that these rules hold for. Days before it keep theirs.'),
        ),
        migrations.AlterField(
            model_name='missedreason',
            name='effect',
            field=models.CharField(choices=[('owed', 'Stays owed'), ('not_owed', 'Not owed'), ('team_decides', 'The team decides')], default='team_decides', help_text='Until the first day on which it changes.', max_length=12),
        ),
        migrations.AddConstraint(
            model_name='ledgersettings',
            constraint=models.UniqueConstraint(fields=('district', 'first_day'), name='ledger_settings_once_a_day', violation_error_message='Other rules already begin on this day: change those.'),
        ),
        migrations.AddField(
            model_name='reasoneffect',
            name='reason',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='effects', to='caseload.missedreason'),
        ),
        migrations.AddConstraint(
            model_name='reasoneffect',
            constraint=models.UniqueConstraint(fields=('reason', 'first_day'), name='reason_effect_once', violation_error_message='It already changes on this day: change that one.'),
        ),
    ]
