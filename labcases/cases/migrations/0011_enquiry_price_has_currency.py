"""No price range without its currency."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("cases", "0010_enquiry_currency")]

    operations = [
        migrations.AddConstraint(
            model_name="enquiry",
            constraint=models.CheckConstraint(
                condition=Q(price_from=None, price_to=None) | ~Q(currency=""),
                name="enquiry_price_names_its_currency",
                violation_error_message="A price range names its currency.",
            ),
        )
    ]
