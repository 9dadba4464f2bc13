
import django.db.models.deletion
import django.utils.timezone
import results.models.plan
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('results', '0008_keeping'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Plan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('title', models.CharField(max_length=200)),
                ('question', models.TextField(help_text='The question the test is to answer.')),
                ('planned', models.JSONField(help_text='The parameters as asked, and what was worked out from them.', validators=[results.models.plan.validate_planned])),
                ('invented', models.BooleanField(default=False, help_text='Made up to show how the book works.')),
                ('lodged_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('status', models.CharField(choices=[('lodged', 'lodged'), ('withdrawn', 'withdrawn')], default='lodged', max_length=9)),
                ('withdrawn_reason', models.TextField(blank=True)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('key', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('contributor', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='plans', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-lodged_at', '-id'],
            },
        ),
        migrations.AddField(
            model_name='study',
            name='plan',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='studies', to='results.plan'),
        ),
        migrations.AddConstraint(
            model_name='plan',
            constraint=models.CheckConstraint(condition=models.Q(('status__in', ['lodged', 'withdrawn'])), name='plan_status_known'),
        ),
        migrations.AddConstraint(
            model_name='plan',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('title', ''), _negated=True), models.Q(('question', ''), _negated=True)), name='plan_says_what_and_why'),
        ),
        migrations.AddConstraint(
            model_name='plan',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('status', 'lodged'), ('withdrawn_at__isnull', True), ('withdrawn_reason', '')), models.Q(('status', 'withdrawn'), ('withdrawn_at__isnull', False), models.Q(('withdrawn_reason', ''), _negated=True)), _connector='OR'), name='plan_withdrawn_has_reason_and_date'),
        ),
    ]
