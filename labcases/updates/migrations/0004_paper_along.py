"""A mail may take a paper along."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0011_enquiry_price_has_currency"),
        ("paper", "0002_clock"),
        ("updates", "0003_unsent_messages"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="message",
            name="attached",
            field=models.ForeignKey(
                blank=True,
                help_text="goes along with the mail",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="paper.paper",
            ),
        ),
        migrations.AddConstraint(
            model_name="message",
            constraint=models.CheckConstraint(
                condition=models.Q(("attached", None), ("channel", "email"), _connector="OR"),
                name="paper_goes_with_mail",
                violation_error_message="Only an e-mail takes a paper along.",
            ),
        ),
    ]
