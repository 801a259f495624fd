import datetime
import django.core.validators
import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.lookups
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [
        migrations.CreateModel(
            name='Person',
            fields=[
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('email', models.EmailField(max_length=254, verbose_name='e-mail address')),
                ('name', models.CharField(blank=True, max_length=120, verbose_name='name')),
                ('zone', models.CharField(default='Europe/London', max_length=64, verbose_name='time zone')),
                ('working_week', models.CharField(default='1111100', help_text='Seven digits, Monday first: 1 for a day of work, 0 for a day off.', max_length=7, validators=[django.core.validators.MinLengthValidator(7), django.core.validators.RegexValidator('\\A[01]*1[01]*\\Z')], verbose_name='working week')),
                ('country', models.CharField(blank=True, max_length=2, verbose_name='country of the public holidays')),
                ('subdivision', models.CharField(blank=True, max_length=20, verbose_name='part of the country')),
                ('locale', models.CharField(default='en', max_length=12, verbose_name='language')),
                ('single_keys', models.BooleanField(default=True, verbose_name='single-key shortcuts')),
                ('quiet_from', models.TimeField(default=datetime.time(20, 0), verbose_name='quiet from')),
                ('quiet_to', models.TimeField(default=datetime.time(7, 0), verbose_name='quiet to')),
                ('wants_mail', models.BooleanField(default=True, verbose_name='notices by mail')),
                ('is_administrator', models.BooleanField(default=False, verbose_name='administrator')),
                ('is_staff', models.BooleanField(default=False, verbose_name='staff')),
                ('is_demo', models.BooleanField(default=False, editable=False, verbose_name='demo account')),
                ('is_active', models.BooleanField(default=True, verbose_name='may sign in')),
                ('date_joined', models.DateTimeField(verbose_name='joined')),
                ('erased_at', models.DateTimeField(blank=True, null=True, verbose_name='erased')),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'verbose_name': 'person',
                'verbose_name_plural': 'people',
                'ordering': ['name', 'id'],
                'constraints': [models.CheckConstraint(condition=django.db.models.lookups.Exact(django.db.models.functions.text.Lower(django.db.models.functions.text.Trim('email')), models.F('email')), name='person_email_normal'), models.UniqueConstraint(fields=('email',), name='person_email_unique', violation_error_message='There is already an account with this e-mail address.'), models.CheckConstraint(condition=models.Q(django.db.models.lookups.GreaterThan(django.db.models.functions.text.Length(django.db.models.functions.text.Trim('name')), models.Value(0)), models.Q(('erased_at__isnull', False)), _connector='OR'), name='person_name_given', violation_error_message='A person needs a name.'), models.CheckConstraint(condition=models.Q(django.db.models.lookups.Exact(django.db.models.functions.text.Length('working_week'), models.Value(7)), django.db.models.lookups.Exact(django.db.models.functions.text.Replace(django.db.models.functions.text.Replace('working_week', models.Value('0'), models.Value('')), models.Value('1'), models.Value('')), models.Value('')), ('working_week__contains', '1')), name='person_working_week_valid', violation_error_message='A working week has seven days and at least one day of work.')],
            },
        ),
        migrations.CreateModel(
            name='DayAway',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('first', models.DateField(verbose_name='first day')),
                ('last', models.DateField(verbose_name='last day')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='days_away', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'days away',
                'verbose_name_plural': 'days away',
                'ordering': ['first', 'last', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('last__gte', models.F('first'))), name='day_away_last_not_before_first', violation_error_message='The last day is before the first.'), models.UniqueConstraint(fields=('person', 'first', 'last'), name='day_away_once', violation_error_message='These days are already entered.')],
            },
        ),
        migrations.CreateModel(
            name='Invitation',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('email', models.EmailField(max_length=254, verbose_name='e-mail address')),
                ('name', models.CharField(max_length=120, verbose_name='name of the person invited')),
                ('token_hash', models.CharField(editable=False, max_length=64)),
                ('created_at', models.DateTimeField(verbose_name='made')),
                ('expires_at', models.DateTimeField(verbose_name='valid until')),
                ('accepted_at', models.DateTimeField(blank=True, null=True, verbose_name='accepted')),
                ('revoked_at', models.DateTimeField(blank=True, null=True, verbose_name='withdrawn')),
                ('accepted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='invitations_accepted', to=settings.AUTH_USER_MODEL)),
                ('invited_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='invitations_sent', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'invitation',
                'verbose_name_plural': 'invitations',
                'ordering': ['-created_at', 'id'],
                'constraints': [models.CheckConstraint(condition=django.db.models.lookups.Exact(django.db.models.functions.text.Lower(django.db.models.functions.text.Trim('email')), models.F('email')), name='invitation_email_normal'), models.UniqueConstraint(fields=('token_hash',), name='invitation_token_unique'), models.CheckConstraint(condition=models.Q(('expires_at__gt', models.F('created_at'))), name='invitation_expires_after_made'), models.CheckConstraint(condition=models.Q(models.Q(('accepted_at__isnull', True), ('accepted_by__isnull', True)), models.Q(('accepted_at__isnull', False), ('accepted_by__isnull', False)), _connector='OR'), name='invitation_accepted_by_somebody'), models.CheckConstraint(condition=models.Q(('accepted_at__isnull', True), ('revoked_at__isnull', True), _connector='OR'), name='invitation_accepted_or_withdrawn')],
            },
        ),
        migrations.CreateModel(
            name='Session',
            fields=[
                ('key_hash', models.CharField(editable=False, max_length=64, primary_key=True, serialize=False)),
                ('payload', models.TextField(editable=False)),
                ('expires_at', models.DateTimeField(db_index=True, verbose_name='valid until')),
                ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'session',
                'verbose_name_plural': 'sessions',
            },
        ),
    ]
