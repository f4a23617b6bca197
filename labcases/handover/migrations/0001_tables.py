import django.db.models.deletion
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [
        ("handover", "0001_first"),
        ("handover", "0002_clock"),
        ("handover", "0003_number_and_note"),
        ("handover", "0004_carrier"),
    ]

    initial = True

    dependencies = [
        ("cases", "0001_tables"),
        ("custody", "0001_tables"),
        ("lab", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="Handover",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("number", models.PositiveSmallIntegerField(help_text="counts within the case; names its report")),
                (
                    "manner",
                    labcases.core.models.Line(
                        choices=[
                            ("collected", "collected"),
                            ("posted", "by post or courier"),
                            ("disposed", "left for disposal, signed"),
                        ],
                        default="collected",
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "collector",
                    labcases.core.models.Line(
                        choices=[
                            ("owner", "the owner"),
                            ("bearer", "who brought it"),
                            ("other", "somebody else, with the owner's word"),
                        ],
                        default="owner",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("collector_name", labcases.core.models.Line(max_length=300, personal=True)),
                (
                    "owners_word",
                    labcases.core.models.Prose(
                        blank=True, help_text="how the owner said that somebody else may collect", personal=True
                    ),
                ),
                (
                    "proof",
                    labcases.core.models.Line(
                        choices=[
                            ("known", "known in person"),
                            ("id card", "identity card seen"),
                            ("passport", "passport seen"),
                            ("licence", "driving licence seen"),
                            ("receipt", "our receipt and signature compared"),
                            ("tracked", "tracked parcel, receiver confirms"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "carrier",
                    labcases.core.models.Line(
                        blank=True, help_text="who takes the parcel", max_length=100, personal=False
                    ),
                ),
                ("tracking", labcases.core.models.Line(blank=True, max_length=100, personal=True)),
                ("seals", models.JSONField(blank=True, default=list)),
                ("signed_how", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
                (
                    "signature",
                    labcases.core.models.Line(
                        blank=True, help_text="digest of the drawn signature in the vault", max_length=64, personal=True
                    ),
                ),
                ("sample_opened", models.BooleanField(default=False, help_text="the customer opened a sample")),
                ("delivery_checked", models.BooleanField(default=False)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="handovers", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("case", "number"),
                        name="handover_number_once_per_case",
                        violation_error_message="A handover of this number is in the case already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("collector", "other"), _negated=True),
                            models.Q(("owners_word", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="other_collector_has_owners_word",
                        violation_error_message="Somebody else collects with the owner's word: say how it was given.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("collector_name", ""), _negated=True),
                        name="collector_is_named",
                        violation_error_message="Say who collects it.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("manner", "posted"), _negated=True),
                            models.Q(("tracking", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="posted_is_tracked",
                        violation_error_message="A parcel goes tracked: note its number.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("manner", "posted"), models.Q(("signed_how", ""), _negated=True), _connector="OR"
                        ),
                        name="handover_is_signed",
                        violation_error_message="Nothing leaves unsigned: draw the signature or tick that the paper is signed.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="HandoverLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fate",
                    labcases.core.models.Line(
                        choices=[("out", "goes out"), ("stays", "stays by signature"), ("later", "later")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("counted", models.PositiveSmallIntegerField(default=1)),
                (
                    "note",
                    labcases.core.models.Line(
                        blank=True, help_text="why the count differs from what came in", max_length=200, personal=False
                    ),
                ),
                (
                    "handover",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="lines", to="handover.handover"
                    ),
                ),
                (
                    "thing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="custody.thing"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("handover", "thing"),
                        name="thing_counted_once_per_handover",
                        violation_error_message="A thing is counted once in a handover.",
                    )
                ],
            },
        ),
    ]
