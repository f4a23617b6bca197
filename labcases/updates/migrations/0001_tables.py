import django.db.models.deletion
import labcases.core.models
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [
        ("updates", "0001_first"),
        ("updates", "0002_clock"),
        ("updates", "0003_unsent_messages"),
        ("updates", "0004_paper_along"),
        ("updates", "0005_heads_to_witnesses"),
    ]

    initial = True

    dependencies = [
        ("cases", "0001_tables"),
        ("custody", "0001_tables"),
        ("lab", "__first__"),
        ("paper", "0001_tables"),
    ]

    operations = [
        migrations.CreateModel(
            name="Wording",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", labcases.core.models.Line(max_length=60, personal=False)),
                ("language", labcases.core.models.Line(default="en", max_length=10, personal=False)),
                (
                    "title",
                    labcases.core.models.Line(help_text="what the staff choose by", max_length=200, personal=False),
                ),
                ("subject", labcases.core.models.Line(max_length=200, personal=False)),
                ("body", labcases.core.models.Prose(personal=False)),
                ("in_use", models.BooleanField(default=True)),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("key", "language"),
                        name="one_wording_per_key_and_language",
                        violation_error_message="There is a wording of this name in this language already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="HeadMail",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("to", labcases.core.models.Line(max_length=254, personal=True)),
                ("made", models.DateTimeField(default=labcases.core.models.now)),
                ("due", models.DateTimeField(default=labcases.core.models.now)),
                ("held_until", models.DateTimeField(null=True)),
                ("tries", models.PositiveSmallIntegerField(default=0)),
                ("sent", models.DateTimeField(null=True)),
                ("error", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
                (
                    "head",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="mails", to="custody.kepthead"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(condition=models.Q(("sent", None)), fields=["due"], name="head_mail_to_send")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("head", "to"),
                        name="one_mail_per_head_and_witness",
                        violation_error_message="This witness was told this head already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Message",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "ref",
                    models.UUIDField(
                        default=uuid.uuid4,
                        editable=False,
                        help_text="names the mail, so that it is sent once",
                        unique=True,
                    ),
                ),
                (
                    "channel",
                    labcases.core.models.Line(
                        choices=[
                            ("email", "e-mail"),
                            ("phone", "phone call"),
                            ("chat", "chat"),
                            ("post", "letter"),
                            ("person", "in person"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("incoming", models.BooleanField(default=False, help_text="the customer said it")),
                (
                    "wording",
                    labcases.core.models.Line(
                        blank=True, help_text="key of the wording it began from", max_length=60, personal=False
                    ),
                ),
                ("with_whom", labcases.core.models.Line(help_text="address or name", max_length=300, personal=True)),
                ("subject", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
                ("body", labcases.core.models.Prose(personal=True)),
                ("agreed", labcases.core.models.Prose(blank=True, help_text="what was agreed", personal=True)),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("waiting", "waits to be sent"),
                            ("sent", "sent"),
                            ("failed", "could not be sent"),
                            ("noted", "noted"),
                            ("unsent", "not sent after all"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("due", models.DateTimeField(default=labcases.core.models.now)),
                ("held_until", models.DateTimeField(blank=True, null=True)),
                ("tries", models.PositiveSmallIntegerField(default=0)),
                ("error", labcases.core.models.Prose(blank=True, personal=True)),
                ("sent", models.DateTimeField(blank=True, null=True)),
                (
                    "attached",
                    models.ForeignKey(
                        blank=True,
                        help_text="goes along with the mail",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="paper.paper",
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="messages", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(fields=["state", "due"], name="message_to_send")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("channel", "email"), ("incoming", False)), ("state", "noted"), _connector="OR"
                        ),
                        name="only_mail_is_sent",
                        violation_error_message="A call or a chat is noted; only an e-mail is sent.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "sent"), _negated=True), ("sent__isnull", False), _connector="OR"
                        ),
                        name="sent_message_says_when",
                        violation_error_message="A sent message says when.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("attached", None), ("channel", "email"), _connector="OR"),
                        name="paper_goes_with_mail",
                        violation_error_message="Only an e-mail takes a paper along.",
                    ),
                ],
            },
        ),
    ]
