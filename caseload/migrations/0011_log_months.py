"""Months of the log, what was done to each, and what a district does about changes in closed ones."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('accounts', '0003_given_passwords_end'),
        ('caseload', '0010_enrollments_of_students'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='LogMonth',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('month', models.DateField(help_text='Its first day.')),
                ('status', models.CharField(choices=[('open', 'Open'), ('signed', 'Signed'), ('closed', 'Closed')], default='open', max_length=8)),
                ('revision', models.PositiveIntegerField(default=1)),
                ('district', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='accounts.district')),
                ('teacher', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='log_months', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'month of the log',
                'verbose_name_plural': 'months of the log',
                'ordering': ['-month', 'teacher'],
            },
        ),
        migrations.CreateModel(
            name='LogMonthAct',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('act', models.CharField(choices=[('signed', 'Signed'), ('closed', 'Closed'), ('reopened', 'Reopened')], max_length=8)),
                ('at', models.DateTimeField(help_text='UTC')),
                ('name', models.CharField(blank=True, help_text='As the signer typed it.', max_length=120)),
                ('reason', models.CharField(blank=True, help_text='Why it was reopened, or closed unsigned.', max_length=300)),
                ('digest', models.CharField(blank=True, help_text='SHA-256 of the content, as 64 hex digits.', max_length=64)),
                ('content', models.JSONField(blank=True, default=dict)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('month', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='acts', to='caseload.logmonth')),
            ],
            options={
                'verbose_name': 'act on a month of the log',
                'verbose_name_plural': 'acts on months of the log',
                'ordering': ['month', 'at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='LogMonthRules',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('afterwards', models.CharField(choices=[('refuse', 'It is refused until the month is reopened'), ('amend', 'It is kept as a dated amendment, shown beside the original')], default='refuse', max_length=8)),
                ('district', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='accounts.district')),
            ],
            options={
                'verbose_name': 'rules of closed months',
                'verbose_name_plural': 'rules of closed months',
            },
        ),
        migrations.AddConstraint(
            model_name='logmonth',
            constraint=models.UniqueConstraint(fields=('teacher', 'month'), name='log_month_once'),
        ),
        migrations.AddConstraint(
            model_name='logmonthrules',
            constraint=models.UniqueConstraint(fields=('district',), name='log_month_rules_once'),
        ),
    ]
