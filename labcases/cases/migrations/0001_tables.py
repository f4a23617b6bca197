import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.lookups
import labcases.cases.stages
import labcases.core.models
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [
        ("cases", "0001_first"),
        ("cases", "0002_first"),
        ("cases", "0003_clock"),
        ("cases", "0004_draft_becomes_a_case"),
        ("cases", "0005_secrets"),
        ("cases", "0006_readings_and_chips"),
        ("cases", "0007_paper_pads"),
        ("cases", "0008_further_traits"),
        ("cases", "0009_signed_papers"),
        ("cases", "0010_enquiry_currency"),
        ("cases", "0011_enquiry_price_has_currency"),
    ]

    initial = True

    dependencies = [
        ("custody", "0001_tables"),
        ("lab", "0001_tables"),
        ("lab", "__first__"),
        ("people", "0001_tables"),
    ]

    operations = [
        migrations.CreateModel(
            name="SecretsKey",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("fingerprint", labcases.core.models.Line(max_length=32, personal=False)),
                ("since", models.DateTimeField(default=labcases.core.models.now)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("pk", 1)),
                        name="one_secrets_key",
                        violation_error_message="The lab has one key for secrets.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Case",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "way",
                    labcases.core.models.Line(
                        choices=[("counter", "over the counter"), ("post", "by post"), ("wait", "while you wait")],
                        default="counter",
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "urgency",
                    labcases.core.models.Line(
                        choices=[("normal", "normal"), ("urgent", "urgent"), ("emergency", "emergency")],
                        default="normal",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("promised", models.DateField(blank=True, null=True)),
                ("letterhead", models.BooleanField(default=True, help_text="papers carry the lab's name")),
                (
                    "reference",
                    labcases.core.models.Line(
                        blank=True, help_text="the bearer's or payer's own number", max_length=100, personal=False
                    ),
                ),
                ("stories", models.JSONField(blank=True, default=list)),
                ("story", labcases.core.models.Prose(blank=True, personal=True)),
                ("story_when", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("tried", models.JSONField(blank=True, default=list)),
                (
                    "powered_since",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("yes", "yes"), ("no", "no"), ("", "not known")],
                        max_length=3,
                        personal=False,
                    ),
                ),
                (
                    "wanted_about",
                    labcases.core.models.Line(
                        blank=True, help_text="about how much there is", max_length=200, personal=True
                    ),
                ),
                (
                    "partial_is_worth",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("yes", "yes"), ("no", "no"), ("", "not known")],
                        max_length=3,
                        personal=False,
                    ),
                ),
                ("terms_signed", models.DateTimeField(blank=True, null=True)),
                ("signed_by", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
                ("signed_how", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
                (
                    "signature",
                    labcases.core.models.Line(
                        blank=True, help_text="digest of the drawn signature in the vault", max_length=64, personal=True
                    ),
                ),
                ("may_examine", models.BooleanField(default=False)),
                (
                    "may_open",
                    models.BooleanField(default=False, help_text="opening for inspection in clean air is allowed"),
                ),
                (
                    "may_keep_dead",
                    models.BooleanField(default=False, help_text="the lab may keep what cannot be used again"),
                ),
                (
                    "spending_limit",
                    models.PositiveBigIntegerField(
                        blank=True, help_text="minor units; agreed at the counter", null=True
                    ),
                ),
                ("currency", labcases.core.models.Line(max_length=3, personal=False)),
                ("disputed", models.BooleanField(default=False)),
                ("legal_hold", models.BooleanField(default=False)),
                (
                    "stop_words",
                    labcases.core.models.Prose(
                        blank=True, help_text="who disputes it, or which order holds it", personal=True
                    ),
                ),
                ("intake_finished", models.DateTimeField(blank=True, null=True)),
                ("closed", models.DateTimeField(blank=True, null=True)),
                (
                    "bearer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cases_brought", to="people.party"
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
                    "engineers",
                    models.ManyToManyField(blank=True, related_name="cases_worked", to=settings.AUTH_USER_MODEL),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cases_owned", to="people.party"
                    ),
                ),
                (
                    "payer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cases_paid", to="people.party"
                    ),
                ),
                (
                    "terms",
                    models.ForeignKey(
                        blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to="lab.termsversion"
                    ),
                ),
                (
                    "thing",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="case", to="custody.thing"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(fields=["closed", "promised"], name="case_open_by_promise")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("terms_signed", None),
                            models.Q(("terms__isnull", False), models.Q(("signed_by", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="signed_terms_name_version_and_signer",
                        violation_error_message="Signed terms name their version and who signed.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Lock",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("disk password", "disk password"),
                            ("encryption", "full-disk encryption"),
                            ("phone code", "phone code"),
                            ("recovery key", "recovery key needed"),
                            ("account", "account lock"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "customer_knows",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("yes", "yes"), ("no", "no"), ("", "not known")],
                        max_length=3,
                        personal=False,
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="locks", to="cases.case"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="OldRecord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", labcases.core.models.Line(max_length=60, personal=False)),
                (
                    "folded",
                    labcases.core.models.Line(
                        db_index=True, help_text="the number as it is looked for", max_length=60, personal=False
                    ),
                ),
                (
                    "case",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="old_record", to="cases.case"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ReservedCode",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("code", labcases.core.models.Line(help_text="folded", max_length=30, personal=False, unique=True)),
                ("pad", models.PositiveIntegerField()),
                ("sheet", models.PositiveIntegerField(help_text="counts from 1 in its pad")),
                ("printed", models.DateTimeField(blank=True, null=True)),
                ("void_because", labcases.core.models.Prose(blank=True, personal=True)),
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
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reserved_code",
                        to="cases.case",
                    ),
                ),
            ],
            options={
                "ordering": ["pad", "sheet"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("pad", "sheet"),
                        name="sheet_once_per_pad",
                        violation_error_message="A pad has each of its sheets once.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("case", None), ("void_because", ""), _connector="OR"),
                        name="sheet_is_a_case_or_void",
                        violation_error_message="A sheet that became a case is not void, and a void one becomes no case.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SignedPaper",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "terms_digest",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the text that was signed, hex", max_length=64, personal=False
                    ),
                ),
                ("items", models.JSONField(default=list, help_text="[[code, what it is]] as listed when it was kept")),
                (
                    "kind",
                    labcases.core.models.Line(
                        help_text="PDF, JPEG, PNG or WebP, by content", max_length=10, personal=False
                    ),
                ),
                ("size", models.PositiveIntegerField(help_text="bytes")),
                (
                    "original",
                    labcases.core.models.Line(help_text="digest of the file as it came", max_length=64, personal=True),
                ),
                (
                    "shown",
                    labcases.core.models.Line(
                        blank=True, help_text="digest of the picture to look at", max_length=64, personal=True
                    ),
                ),
                (
                    "thumb",
                    labcases.core.models.Line(
                        blank=True, help_text="digest of the small picture", max_length=64, personal=True
                    ),
                ),
                ("withdrawn", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_because", labcases.core.models.Line(blank=True, max_length=200, personal=True)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="signed_papers", to="cases.case"
                    ),
                ),
                (
                    "terms",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lab.termsversion"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn", None)),
                        fields=("case", "original"),
                        name="signed_paper_once_per_case",
                        violation_error_message="This very file is with the case already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            django.db.models.lookups.Exact(django.db.models.functions.text.Length("original"), 64),
                            django.db.models.lookups.Exact(django.db.models.functions.text.Length("terms_digest"), 64),
                        ),
                        name="signed_paper_has_its_digests",
                        violation_error_message="A signed paper names its file and the signed text by 64 hexadecimal digits.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn", None), models.Q(("withdrawn_because", ""), _negated=True), _connector="OR"
                        ),
                        name="withdrawn_paper_says_why",
                        violation_error_message="Say why this scan is withdrawn.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Wanted",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveSmallIntegerField()),
                ("what", labcases.core.models.Line(max_length=300, personal=True)),
                ("urgent", models.BooleanField(default=False)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="wanted", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["number", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("case", "number"),
                        name="wanted_number_once_per_case",
                        violation_error_message="Each wanted line has a number of its own.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Accessory",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("words", labcases.core.models.Line(max_length=200, personal=False)),
                ("count", models.PositiveSmallIntegerField(default=1)),
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
                    "thing",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="accessory", to="custody.thing"
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="accessories", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("count__gte", 1)),
                        name="accessory_counts_one",
                        violation_error_message="Count at least one.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="CaseKey",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("wrapped", models.BinaryField(max_length=200, null=True)),
                ("erased", models.DateTimeField(null=True)),
                (
                    "case",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="secrets_key", to="cases.case"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("erased__isnull", False), ("wrapped", None)),
                            models.Q(("erased", None), ("wrapped__isnull", False)),
                            _connector="OR",
                        ),
                        name="case_key_is_there_or_erased",
                        violation_error_message="The key of a case is there, or its erasing is on record.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Draft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField(unique=True)),
                ("typed", labcases.core.models.Prose(help_text="the form, url-encoded", personal=True)),
                ("version", models.PositiveIntegerField(default=1)),
                ("started", models.DateTimeField(auto_now_add=True)),
                ("changed", models.DateTimeField(auto_now=True)),
                (
                    "case",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="draft",
                        to="cases.case",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        help_text="who changed it last",
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-changed"],
            },
        ),
        migrations.CreateModel(
            name="Enquiry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("name", labcases.core.models.Line(max_length=300, personal=True)),
                (
                    "reach",
                    labcases.core.models.Line(
                        blank=True, help_text="phone or e-mail, as told", max_length=300, personal=True
                    ),
                ),
                (
                    "kind",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("disk35", "3.5″ disk"),
                            ("disk25", "2.5″ disk"),
                            ("disk18", "1.8″ disk"),
                            ("helium", "helium-filled disk"),
                            ("external", "external disk"),
                            ("ssd", "SSD"),
                            ("nvme", "M.2 or NVMe SSD"),
                            ("soldered", "soldered storage"),
                            ("stick", "stick"),
                            ("card", "memory card"),
                            ("onepiece", "one-piece card"),
                            ("flashchip", "bare flash chip"),
                            ("embedded", "eMMC or UFS"),
                            ("phone", "phone or tablet"),
                            ("recorder", "recorder or camera"),
                            ("nas", "NAS box"),
                            ("member", "array member"),
                            ("tape", "tape"),
                            ("optical", "optical disc"),
                            ("floppy", "floppy"),
                            ("other", "something else"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                ("asked", labcases.core.models.Prose(blank=True, personal=True)),
                ("advice", labcases.core.models.Prose(blank=True, personal=False)),
                ("price_from", models.PositiveBigIntegerField(blank=True, help_text="minor units", null=True)),
                ("price_to", models.PositiveBigIntegerField(blank=True, help_text="minor units", null=True)),
                (
                    "currency",
                    labcases.core.models.Line(blank=True, help_text="of the price range", max_length=3, personal=False),
                ),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("open", "waiting"),
                            ("case", "became a case"),
                            ("ended", "ended"),
                            ("refused", "refused"),
                        ],
                        default="open",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("reason", labcases.core.models.Prose(blank=True, personal=True)),
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
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="enquiries",
                        to="cases.case",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("price_from", None),
                            ("price_to", None),
                            ("price_to__gte", models.F("price_from")),
                            _connector="OR",
                        ),
                        name="enquiry_price_range",
                        violation_error_message="The upper price is not below the lower one.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("price_from", None), ("price_to", None)),
                            models.Q(("currency", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="enquiry_price_names_its_currency",
                        violation_error_message="A price range names its currency.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "refused"), _negated=True),
                            models.Q(("reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="refusal_has_reason",
                        violation_error_message="Say why it is refused.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "case"), _negated=True), ("case__isnull", False), _connector="OR"
                        ),
                        name="enquiry_that_became_a_case_names_it",
                        violation_error_message="An enquiry that became a case names the case.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Item",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("disk35", "3.5″ disk"),
                            ("disk25", "2.5″ disk"),
                            ("disk18", "1.8″ disk"),
                            ("helium", "helium-filled disk"),
                            ("external", "external disk"),
                            ("ssd", "SSD"),
                            ("nvme", "M.2 or NVMe SSD"),
                            ("soldered", "soldered storage"),
                            ("stick", "stick"),
                            ("card", "memory card"),
                            ("onepiece", "one-piece card"),
                            ("flashchip", "bare flash chip"),
                            ("embedded", "eMMC or UFS"),
                            ("phone", "phone or tablet"),
                            ("recorder", "recorder or camera"),
                            ("nas", "NAS box"),
                            ("member", "array member"),
                            ("tape", "tape"),
                            ("optical", "optical disc"),
                            ("floppy", "floppy"),
                            ("other", "something else"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "kind_words",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="what it is, when the list has no word for it",
                        max_length=100,
                        personal=False,
                    ),
                ),
                ("maker", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("model", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("serial", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("firmware", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("interface", labcases.core.models.Line(blank=True, max_length=40, personal=False)),
                ("sectors", models.PositiveBigIntegerField(blank=True, null=True)),
                ("sector_bytes", models.PositiveIntegerField(blank=True, null=True)),
                ("heads", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("platters", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("made", models.DateField(blank=True, null=True)),
                ("plant", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("board_number", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("board_revision", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("main_chip", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("preamplifier", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                (
                    "head_map",
                    labcases.core.models.Line(
                        blank=True, help_text="positions of the heads fitted: 0 1 2 3", max_length=200, personal=False
                    ),
                ),
                (
                    "head_offsets",
                    labcases.core.models.Line(
                        blank=True, help_text="one radial offset for each head", max_length=600, personal=False
                    ),
                ),
                ("motor", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("base_casting", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("flash_controller", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                (
                    "flash_ids",
                    labcases.core.models.Line(
                        blank=True, help_text="apart by semicolons, chip by chip", max_length=600, personal=False
                    ),
                ),
                ("channels", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("bridge_number", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("encryption_generation", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                (
                    "codes",
                    models.JSONField(
                        blank=True, default=dict, help_text="codes on its labels that the lab compares, by name"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                (
                    "stage",
                    labcases.core.models.Line(
                        choices=[
                            (labcases.cases.stages.Stage["EXPECTED"], labcases.cases.stages.Stage["EXPECTED"]),
                            (labcases.cases.stages.Stage["RECEIVED"], labcases.cases.stages.Stage["RECEIVED"]),
                            (labcases.cases.stages.Stage["EXAMINED"], labcases.cases.stages.Stage["EXAMINED"]),
                            (labcases.cases.stages.Stage["QUOTED"], labcases.cases.stages.Stage["QUOTED"]),
                            (labcases.cases.stages.Stage["AUTHORISED"], labcases.cases.stages.Stage["AUTHORISED"]),
                            (labcases.cases.stages.Stage["IN_WORK"], labcases.cases.stages.Stage["IN_WORK"]),
                            (labcases.cases.stages.Stage["CHECKED"], labcases.cases.stages.Stage["CHECKED"]),
                            (labcases.cases.stages.Stage["READY"], labcases.cases.stages.Stage["READY"]),
                            (labcases.cases.stages.Stage["DECLINED"], labcases.cases.stages.Stage["DECLINED"]),
                            (
                                labcases.cases.stages.Stage["UNRECOVERABLE"],
                                labcases.cases.stages.Stage["UNRECOVERABLE"],
                            ),
                            (labcases.cases.stages.Stage["WITHDRAWN"], labcases.cases.stages.Stage["WITHDRAWN"]),
                            (labcases.cases.stages.Stage["ABANDONED"], labcases.cases.stages.Stage["ABANDONED"]),
                            (labcases.cases.stages.Stage["HANDED_OVER"], labcases.cases.stages.Stage["HANDED_OVER"]),
                            (labcases.cases.stages.Stage["CLOSED"], labcases.cases.stages.Stage["CLOSED"]),
                            (labcases.cases.stages.Stage["NEVER_CAME"], labcases.cases.stages.Stage["NEVER_CAME"]),
                        ],
                        default=labcases.cases.stages.Stage["RECEIVED"],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "slot",
                    labcases.core.models.Line(
                        blank=True, help_text="its place in an array", max_length=40, personal=False
                    ),
                ),
                ("marks", models.JSONField(blank=True, default=list)),
                ("behaviours", models.JSONField(blank=True, default=list)),
                ("label_codes", labcases.core.models.Line(blank=True, max_length=300, personal=False)),
                ("note", labcases.core.models.Prose(blank=True, personal=True)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="items", to="cases.case"
                    ),
                ),
                (
                    "parent",
                    models.ForeignKey(
                        blank=True,
                        help_text="what it was taken off",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="chips",
                        to="cases.item",
                    ),
                ),
                (
                    "thing",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="item", to="custody.thing"
                    ),
                ),
            ],
            options={
                "ordering": ["case_id", "number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("case", "number"),
                        name="item_number_once_per_case",
                        violation_error_message="An item of this number is in the case already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("parent", None), models.Q(("parent", models.F("pk")), _negated=True), _connector="OR"
                        ),
                        name="chip_was_taken_off_another",
                        violation_error_message="A chip was taken off another item than itself.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "stage__in",
                                [
                                    "expected",
                                    "received",
                                    "examined",
                                    "quoted",
                                    "authorised",
                                    "in work",
                                    "checked",
                                    "ready",
                                    "declined",
                                    "unrecoverable",
                                    "withdrawn",
                                    "abandoned",
                                    "handed over",
                                    "closed",
                                    "never came",
                                ],
                            )
                        ),
                        name="item_stage_is_known",
                        violation_error_message="An item is at one of the stages of its way.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Reading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "draft",
                    models.UUIDField(
                        db_index=True, help_text="the intake it was read for, before there is an item", null=True
                    ),
                ),
                (
                    "source",
                    labcases.core.models.Line(
                        choices=[("page", "read from the medium"), ("shown", "typed from what the machine shows")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "what",
                    labcases.core.models.Line(
                        blank=True, help_text="which page or register it was", max_length=100, personal=False
                    ),
                ),
                (
                    "page",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="digest of the page as it was given, in the vault",
                        max_length=64,
                        personal=False,
                    ),
                ),
                ("said", models.JSONField(default=dict, help_text="what it says of itself, by attribute")),
                ("pairs", models.JSONField(default=list, help_text="what was read, as label and value")),
                ("loud", models.JSONField(default=list, help_text="sentences that must be read")),
                ("notes", models.JSONField(default=list, help_text="sentences that may be read")),
                (
                    "filled",
                    models.JSONField(
                        default=list, help_text="attributes that nobody had noted, and that were taken from it"
                    ),
                ),
                (
                    "whole",
                    models.BooleanField(
                        default=True, help_text="false when only the board answered, without its service area"
                    ),
                ),
                ("locked", models.BooleanField(default=False)),
                ("answers", models.JSONField(default=dict, help_text="how each difference was answered, by attribute")),
                ("wrong_item", models.BooleanField(default=False)),
                ("lifted", models.DateTimeField(null=True)),
                ("lifted_because", labcases.core.models.Prose(blank=True, personal=True)),
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
                    "item",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="readings", to="cases.item"
                    ),
                ),
                (
                    "lifted_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("draft__isnull", False), ("item", None)),
                            models.Q(("draft", None), ("item__isnull", False)),
                            _connector="OR",
                        ),
                        name="reading_of_item_or_draft",
                        violation_error_message="A reading is of an item, or waits with a draft.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("lifted", None),
                            models.Q(("wrong_item", True), models.Q(("lifted_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="lifted_stop_says_why",
                        violation_error_message="A lifted stop says why.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StageStamp",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "stage",
                    labcases.core.models.Line(
                        choices=[
                            (labcases.cases.stages.Stage["EXPECTED"], labcases.cases.stages.Stage["EXPECTED"]),
                            (labcases.cases.stages.Stage["RECEIVED"], labcases.cases.stages.Stage["RECEIVED"]),
                            (labcases.cases.stages.Stage["EXAMINED"], labcases.cases.stages.Stage["EXAMINED"]),
                            (labcases.cases.stages.Stage["QUOTED"], labcases.cases.stages.Stage["QUOTED"]),
                            (labcases.cases.stages.Stage["AUTHORISED"], labcases.cases.stages.Stage["AUTHORISED"]),
                            (labcases.cases.stages.Stage["IN_WORK"], labcases.cases.stages.Stage["IN_WORK"]),
                            (labcases.cases.stages.Stage["CHECKED"], labcases.cases.stages.Stage["CHECKED"]),
                            (labcases.cases.stages.Stage["READY"], labcases.cases.stages.Stage["READY"]),
                            (labcases.cases.stages.Stage["DECLINED"], labcases.cases.stages.Stage["DECLINED"]),
                            (
                                labcases.cases.stages.Stage["UNRECOVERABLE"],
                                labcases.cases.stages.Stage["UNRECOVERABLE"],
                            ),
                            (labcases.cases.stages.Stage["WITHDRAWN"], labcases.cases.stages.Stage["WITHDRAWN"]),
                            (labcases.cases.stages.Stage["ABANDONED"], labcases.cases.stages.Stage["ABANDONED"]),
                            (labcases.cases.stages.Stage["HANDED_OVER"], labcases.cases.stages.Stage["HANDED_OVER"]),
                            (labcases.cases.stages.Stage["CLOSED"], labcases.cases.stages.Stage["CLOSED"]),
                            (labcases.cases.stages.Stage["NEVER_CAME"], labcases.cases.stages.Stage["NEVER_CAME"]),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=True)),
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
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="stamps", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="CaseSecret",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("ref", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("password", "password"),
                            ("recovery key", "recovery key"),
                            ("code", "code"),
                            ("pattern", "unlock pattern"),
                            ("other", "something else"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "opens",
                    labcases.core.models.Line(
                        blank=True, help_text="what it opens, in words", max_length=100, personal=True
                    ),
                ),
                ("sealed", models.BinaryField(max_length=10000, null=True)),
                ("erased", models.DateTimeField(null=True)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="secrets", to="cases.case"
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        blank=True,
                        help_text="what it opens",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="secrets",
                        to="cases.item",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("erased__isnull", False), ("sealed", None)),
                            models.Q(("erased", None), ("sealed__isnull", False)),
                            _connector="OR",
                        ),
                        name="secret_is_sealed_or_erased",
                        violation_error_message="A secret is sealed, or its erasing is on record.",
                    )
                ],
            },
        ),
    ]
