import django.core.validators
import django.db.models.deletion
import jobs.models.trust
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    """The table of trusted ages is made anew with a route: nothing has written to it so far."""

    dependencies = [
        ('shop', '0003_the_concrete_itself'),
        ('jobs', '0002_the_concrete_itself'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.DeleteModel(name='TrustedAge'),
        migrations.CreateModel(
            name='TrustedAge',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=jobs.models.trust.piece_kinds, max_length=6)),
                ('hours', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0.1)])),
                ('outcomes', models.PositiveIntegerField()),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('mark', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='trusted_ages', to='jobs.mark')),
                ('mix', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='trusted_ages', to='shop.mix')),
                ('route', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='trusted_ages', to='shop.route')),
            ],
            options={
                'ordering': ['-at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('by__isnull', False), ('mark__isnull', True)), models.Q(('by__isnull', True), ('mark__isnull', False)), _connector='OR'), name='an_age_is_set_by_somebody_or_a_demold')],
            },
        ),
        migrations.CreateModel(
            name='Demold',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=jobs.models.trust.piece_kinds, max_length=6)),
                ('age_hours', models.FloatField()),
                ('mark', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='demold', to='jobs.mark')),
                ('mix', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='demolds', to='shop.mix')),
                ('route', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='demolds', to='shop.route')),
            ],
            options={
                'ordering': ['mark'],
                'constraints': [models.CheckConstraint(condition=models.Q(('age_hours__gt', 0)), name='a_demold_follows_a_cast')],
            },
        ),
    ]
