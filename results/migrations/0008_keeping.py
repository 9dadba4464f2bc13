
import django.db.models.deletion
import results.models.photo
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('results', '0007_packed'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Answer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('text', models.TextField()),
            ],
            options={
                'ordering': ['at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='Calibration',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('made_on', models.DateField()),
                ('unit', models.CharField(blank=True, help_text='Of readings typed without one.', max_length=20)),
                ('points', models.JSONField(help_text='Pairs of what was hung and what was read, as typed.')),
                ('hung_n', models.JSONField(help_text='The same in newtons (or newton metres), in the same order.')),
                ('read_n', models.JSONField()),
                ('weights_from', models.CharField(blank=True, help_text='How the weights are known.', max_length=200)),
                ('weights_within', models.CharField(blank=True, help_text='How well, as typed: a share or a weight.', max_length=40)),
                ('known_u_n', models.JSONField(blank=True, default=list, help_text='Their standard uncertainties, in that order.')),
                ('created_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'ordering': ['-made_on', '-id'],
            },
        ),
        migrations.CreateModel(
            name='Entry',
            fields=[
                ('number', models.PositiveBigIntegerField(help_text='Counts from 1, without gaps.', primary_key=True, serialize=False)),
                ('at', models.DateTimeField()),
                ('what', models.CharField(choices=[('accepted', 'accepted'), ('withdrawn', 'withdrawn')], max_length=9)),
                ('by', models.PositiveBigIntegerField(null=True)),
                ('why', models.TextField(blank=True)),
                ('document_sha256', models.CharField(blank=True, max_length=64)),
                ('before', models.CharField(help_text='The hash of the link before; zeros for the first.', max_length=64)),
                ('hash', models.CharField(max_length=64, unique=True)),
            ],
            options={
                'verbose_name_plural': 'entries',
                'ordering': ['number'],
            },
        ),
        migrations.CreateModel(
            name='FormDraft',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, primary_key=True, serialize=False)),
                ('title', models.CharField(blank=True, max_length=200)),
                ('typed', models.JSONField(default=dict, help_text='What was typed, by the name of the input.')),
                ('version', models.PositiveIntegerField(default=1)),
                ('tab', models.CharField(blank=True, help_text='The open page that saved it last.', max_length=40)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('changed_at', models.DateTimeField(auto_now=True)),
            ],
            options={
                'ordering': ['-changed_at'],
            },
        ),
        migrations.CreateModel(
            name='Notice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(choices=[('submitted', 'handed in for review'), ('returned', 'returned with remarks'), ('accepted', 'accepted'), ('withdrawn', 'withdrawn'), ('question', 'question'), ('doubt', 'doubt'), ('answer', 'answer'), ('resolved', 'resolved')], max_length=10)),
                ('text', models.TextField()),
                ('address', models.CharField(help_text='The page it is about, from the host on.', max_length=300)),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('seen_at', models.DateTimeField(blank=True, null=True)),
                ('sent_at', models.DateTimeField(blank=True, help_text='When a digest took it along.', null=True)),
            ],
            options={
                'ordering': ['-at', '-id'],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('caption', models.CharField(help_text="What it shows, for those who can't see it too.", max_length=200)),
                ('file', models.FileField(upload_to=results.models.photo.photo_path)),
                ('thumbnail', models.FileField(upload_to=results.models.photo.thumbnail_path)),
                ('width', models.PositiveIntegerField()),
                ('height', models.PositiveIntegerField()),
                ('size_bytes', models.PositiveIntegerField()),
                ('sha256', models.CharField(help_text='Of the picture as kept.', max_length=64)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'ordering': ['created_at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='Profile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('digest', models.CharField(choices=[('never', 'no e-mail'), ('daily', 'once a day'), ('weekly', 'once a week')], default='daily', max_length=6)),
                ('feed_key', models.UUIDField(default=uuid.uuid4, unique=True)),
                ('told_until', models.DateTimeField(blank=True, help_text='When the last digest was sent.', null=True)),
            ],
        ),
        migrations.CreateModel(
            name='Question',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('question', 'question'), ('doubt', 'doubt')], max_length=8)),
                ('text', models.TextField()),
                ('about', models.CharField(blank=True, help_text='The series or specimen by its label.', max_length=200)),
                ('asked_at', models.DateTimeField(auto_now_add=True)),
                ('state', models.CharField(choices=[('open', 'open'), ('resolved', 'resolved')], default='open', max_length=8)),
                ('resolved_at', models.DateTimeField(blank=True, null=True)),
                ('resolution', models.TextField(blank=True, help_text='How it was resolved.')),
            ],
            options={
                'ordering': ['asked_at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='Revision',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(help_text="Counts the study's revisions from 1.")),
                ('state', models.CharField(choices=[('submitted', 'waits for review'), ('returned', 'returned with remarks'), ('accepted', 'accepted'), ('replaced', 'replaced before it was reviewed')], default='submitted', max_length=9)),
                ('made_at', models.DateTimeField(auto_now_add=True)),
                ('why', models.TextField(blank=True, help_text="Why it was made, in its maker's words.")),
                ('restores', models.PositiveIntegerField(blank=True, help_text='The revision it goes back to.', null=True)),
                ('decided_at', models.DateTimeField(blank=True, null=True)),
                ('remarks', models.TextField(blank=True, help_text="The reviewer's reasons.")),
                ('document', models.BinaryField(help_text="The study's records as canonical JSON, compressed.")),
                ('document_sha256', models.CharField(help_text='Of the canonical JSON.', max_length=64)),
            ],
            options={
                'ordering': ['study_id', 'number'],
            },
        ),
        migrations.CreateModel(
            name='Rig',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('label', models.CharField(max_length=80)),
                ('typed', models.JSONField(blank=True, default=dict, help_text="Lengths and numbers as typed, by a setup's field.")),
                ('notes', models.TextField(blank=True)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('changed_at', models.DateTimeField(auto_now=True)),
            ],
            options={
                'ordering': ['label'],
            },
        ),
        migrations.AlterModelOptions(
            name='study',
            options={'ordering': ['-accepted_at', '-id'], 'permissions': [('review_study', 'Can review studies')], 'verbose_name_plural': 'studies'},
        ),
        migrations.RemoveConstraint(
            model_name='study',
            name='study_status_known',
        ),
        migrations.AlterField(
            model_name='study',
            name='status',
            field=models.CharField(choices=[('draft', 'draft'), ('submitted', 'submitted'), ('returned', 'returned with remarks'), ('accepted', 'accepted'), ('withdrawn', 'withdrawn')], default='draft', max_length=10),
        ),
        migrations.AddConstraint(
            model_name='study',
            constraint=models.CheckConstraint(condition=models.Q(('status__in', ['draft', 'submitted', 'returned', 'accepted', 'withdrawn'])), name='study_status_known'),
        ),
        migrations.AddField(
            model_name='answer',
            name='by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='answered', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='entry',
            name='study',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='entries', to='results.study'),
        ),
        migrations.AddField(
            model_name='formdraft',
            name='study',
            field=models.ForeignKey(blank=True, help_text='The study it changes.', null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='results.study'),
        ),
        migrations.AddField(
            model_name='formdraft',
            name='user',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='form_drafts', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='notice',
            name='study',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='results.study'),
        ),
        migrations.AddField(
            model_name='notice',
            name='user',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='notices', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='photo',
            name='sent_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='photos', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='photo',
            name='series',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='photos', to='results.series'),
        ),
        migrations.AddField(
            model_name='photo',
            name='specimen',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='photos', to='results.specimen'),
        ),
        migrations.AddField(
            model_name='photo',
            name='study',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='photos', to='results.study'),
        ),
        migrations.AddField(
            model_name='profile',
            name='user',
            field=models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='profile', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='question',
            name='asked_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='asked', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='question',
            name='resolved_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='question',
            name='series',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='questions', to='results.series'),
        ),
        migrations.AddField(
            model_name='question',
            name='specimen',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='questions', to='results.specimen'),
        ),
        migrations.AddField(
            model_name='question',
            name='study',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='questions', to='results.study'),
        ),
        migrations.AddField(
            model_name='answer',
            name='question',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='answers', to='results.question'),
        ),
        migrations.AddField(
            model_name='revision',
            name='decided_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='revision',
            name='made_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='revision',
            name='study',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='revisions', to='results.study'),
        ),
        migrations.AddField(
            model_name='entry',
            name='revision',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='entries', to='results.revision'),
        ),
        migrations.AddField(
            model_name='rig',
            name='instrument',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='results.instrument'),
        ),
        migrations.AddField(
            model_name='rig',
            name='loading',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='results.loading'),
        ),
        migrations.AddField(
            model_name='rig',
            name='user',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='rigs', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='calibration',
            name='rig',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='calibrations', to='results.rig'),
        ),
        migrations.AddField(
            model_name='setup',
            name='rig',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='setups', to='results.rig'),
        ),
        migrations.AddIndex(
            model_name='series',
            index=models.Index(fields=['joint', 'timber', 'study'], name='series_by_kind'),
        ),
        migrations.AddIndex(
            model_name='notice',
            index=models.Index(fields=['user', '-at'], name='results_not_user_id_7e296e_idx'),
        ),
        migrations.AddIndex(
            model_name='notice',
            index=models.Index(condition=models.Q(('seen_at__isnull', True)), fields=['user'], name='notice_unseen'),
        ),
        migrations.AddConstraint(
            model_name='notice',
            constraint=models.CheckConstraint(condition=models.Q(('what__in', ['submitted', 'returned', 'accepted', 'withdrawn', 'question', 'doubt', 'answer', 'resolved'])), name='notice_what_known'),
        ),
        migrations.AddConstraint(
            model_name='photo',
            constraint=models.UniqueConstraint(fields=('study', 'sha256'), name='photo_once_a_study'),
        ),
        migrations.AddConstraint(
            model_name='profile',
            constraint=models.CheckConstraint(condition=models.Q(('digest__in', ['never', 'daily', 'weekly'])), name='profile_digest_known'),
        ),
        migrations.AddConstraint(
            model_name='question',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['question', 'doubt'])), name='question_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='question',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['open', 'resolved'])), name='question_state_known'),
        ),
        migrations.AddConstraint(
            model_name='question',
            constraint=models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='question_says_something'),
        ),
        migrations.AddConstraint(
            model_name='question',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'resolved'), _negated=True), models.Q(('resolution', ''), _negated=True), _connector='OR'), name='question_resolved_says_how'),
        ),
        migrations.AddConstraint(
            model_name='answer',
            constraint=models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='answer_says_something'),
        ),
        migrations.AddConstraint(
            model_name='revision',
            constraint=models.UniqueConstraint(fields=('study', 'number'), name='revision_number_once_a_study'),
        ),
        migrations.AddConstraint(
            model_name='revision',
            constraint=models.UniqueConstraint(condition=models.Q(('state', 'submitted')), fields=('study',), name='revision_one_waits'),
        ),
        migrations.AddConstraint(
            model_name='revision',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['submitted', 'returned', 'accepted', 'replaced'])), name='revision_state_known'),
        ),
        migrations.AddConstraint(
            model_name='revision',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'returned'), _negated=True), models.Q(('remarks', ''), _negated=True), _connector='OR'), name='revision_returned_has_remarks'),
        ),
        migrations.AddConstraint(
            model_name='entry',
            constraint=models.CheckConstraint(condition=models.Q(('what__in', ['accepted', 'withdrawn'])), name='entry_what_known'),
        ),
        migrations.AddConstraint(
            model_name='rig',
            constraint=models.UniqueConstraint(fields=('user', 'label'), name='rig_label_once_a_user'),
        ),
        migrations.AddField(
            model_name='upload',
            name='changes',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='change_uploads', to='results.study'),
        ),
        migrations.AddField(
            model_name='upload',
            name='revision',
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
    ]
