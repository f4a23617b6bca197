import django.core.serializers.json
import django.db.models.deletion
import labcases.core.models
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [
        ("people", "0001_first"),
        ("people", "0002_clock"),
        ("people", "0003_party_words"),
        ("people", "0004_words_of_parties"),
        ("people", "0005_no_searched"),
        ("people", "0006_merges"),
        ("people", "0007_came_with_a_batch"),
        ("people", "0008_words_by_party"),
    ]

    initial = True

    dependencies = [
        ("core", "0001_tables"),
        ("lab", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="Party",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "ref",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, help_text="how the ledger calls this party", unique=True
                    ),
                ),
                ("name", labcases.core.models.Line(max_length=300, personal=True)),
                ("company", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
                (
                    "phone",
                    labcases.core.models.Line(
                        blank=True, db_index=True, help_text="E.164", max_length=20, personal=True
                    ),
                ),
                ("email", models.EmailField(blank=True, max_length=254)),
                ("address", labcases.core.models.Prose(blank=True, personal=True)),
                ("country", labcases.core.models.Line(blank=True, max_length=2, personal=True)),
                ("tax_number", labcases.core.models.Line(blank=True, max_length=60, personal=True)),
                ("language", labcases.core.models.Line(blank=True, max_length=10, personal=True)),
                (
                    "channel",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("email", "e-mail"), ("phone", "phone"), ("chat", "chat"), ("post", "letter")],
                        max_length=10,
                        personal=True,
                    ),
                ),
                ("on_account", models.BooleanField(default=False, help_text="is billed monthly")),
                ("note", labcases.core.models.Prose(blank=True, personal=True)),
                ("created", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "batch",
                    models.ForeignKey(
                        help_text="came in with it",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="core.batch",
                    ),
                ),
                (
                    "merged_into",
                    models.ForeignKey(
                        blank=True,
                        help_text="who this became",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="merged_from",
                        to="people.party",
                    ),
                ),
            ],
            options={
                "ordering": ["name", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True),
                        name="party_has_a_name",
                        violation_error_message="Say who it is: a name is needed.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("phone", ""), _negated=True),
                            models.Q(("email", ""), _negated=True),
                            models.Q(("address", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="party_can_be_reached",
                        violation_error_message="Say how to reach them: a phone number, an e-mail address or a postal address.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("merged_into", None),
                            models.Q(("merged_into", models.F("pk")), _negated=True),
                            _connector="OR",
                        ),
                        name="party_goes_into_another",
                        violation_error_message="A record cannot go into itself.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PartyMerge",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("because", labcases.core.models.Prose(personal=True)),
                (
                    "moved",
                    models.JSONField(
                        default=list,
                        encoder=django.core.serializers.json.DjangoJSONEncoder,
                        help_text="[{model, field, keys of the rows that named the gone one}]",
                    ),
                ),
                (
                    "filled",
                    models.JSONField(
                        default=dict, help_text="{field of the kept record: [what stood there, what came]}"
                    ),
                ),
                ("undone", models.DateTimeField(blank=True, null=True)),
                ("undone_because", labcases.core.models.Prose(blank=True, personal=True)),
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
                    "gone",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="went", to="people.party"
                    ),
                ),
                (
                    "kept",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="merges", to="people.party"
                    ),
                ),
                (
                    "undone_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("undone", None)),
                        fields=("gone",),
                        name="one_standing_merge_per_party",
                        violation_error_message="This record has gone into another already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("undone", None), ("undone_by", None)),
                            models.Q(("undone__isnull", False), models.Q(("undone_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="undone_merge_says_why",
                        violation_error_message="Say why the two are parted again.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PartyWord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("word", labcases.core.models.Line(db_index=True, max_length=101, personal=True)),
                (
                    "party",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="words", to="people.party"
                    ),
                ),
            ],
            options={
                "ordering": ["word", "pk"],
                "indexes": [
                    models.Index(fields=["party", "word"], name="words_of_a_party"),
                    models.Index(fields=["word", "party"], name="parties_of_a_word"),
                ],
            },
        ),
    ]
