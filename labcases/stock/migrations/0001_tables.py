import django.db.models.deletion
import django.db.models.functions.text
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [
        ("stock", "0001_first"),
        ("stock", "0002_words_of_fitting"),
        ("stock", "0003_clock"),
        ("stock", "0004_owners_and_destruction"),
        ("stock", "0005_family_sizes"),
        ("stock", "0006_traits_rules_and_needs"),
        ("stock", "0007_life_of_media"),
        ("stock", "0008_what_media_held"),
        ("stock", "0009_rules_of_media"),
        ("stock", "0010_storage_pools"),
        ("stock", "0011_stocktakes"),
        ("stock", "0012_found_by_model"),
        ("stock", "0013_offered_part_may_go"),
    ]

    initial = True

    dependencies = [
        ("cases", "0001_tables"),
        ("custody", "0001_tables"),
        ("lab", "0001_tables"),
        ("lab", "__first__"),
        ("people", "0001_tables"),
    ]

    operations = [
        migrations.CreateModel(
            name="Family",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", labcases.core.models.Line(max_length=100, personal=False, unique=True)),
                (
                    "heads",
                    models.PositiveSmallIntegerField(
                        blank=True, help_text="heads fitted, when all sizes share them", null=True
                    ),
                ),
                ("platters", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("quirks", labcases.core.models.Prose(blank=True, personal=False)),
            ],
            options={
                "verbose_name_plural": "families",
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="Destination",
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
                (
                    "use",
                    labcases.core.models.Line(
                        choices=[("clone", "destination"), ("delivery", "delivery medium")],
                        default="clone",
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("new and sealed", "new and sealed"),
                            ("wiped and verified", "wiped and verified"),
                            ("assigned", "assigned"),
                            ("holds customer data", "holds customer data"),
                            ("kept", "kept"),
                            ("being wiped", "being wiped"),
                            ("wiped, not verified", "wiped, not verified"),
                            ("retired", "retired"),
                            ("handed out", "handed out"),
                        ],
                        default="new and sealed",
                        max_length=30,
                        personal=False,
                    ),
                ),
                (
                    "written",
                    models.BooleanField(
                        default=False, help_text="data of its case lies on it, until a wipe is verified"
                    ),
                ),
                (
                    "model_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("model"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "healthy",
                    models.BooleanField(
                        blank=True, help_text="its last health check; unknown when never checked", null=True
                    ),
                ),
                (
                    "content",
                    labcases.core.models.Prose(
                        blank=True, help_text="what lies on a customer's own, as they say", personal=True
                    ),
                ),
                (
                    "consent",
                    labcases.core.models.Prose(
                        blank=True, help_text="the owner's written consent to write on it", personal=True
                    ),
                ),
                (
                    "consent_by",
                    labcases.core.models.Line(blank=True, help_text="who signed it", max_length=200, personal=True),
                ),
                (
                    "consent_paper",
                    labcases.core.models.Line(
                        blank=True, help_text="which signed paper, and where it is", max_length=200, personal=False
                    ),
                ),
                ("cost", models.PositiveBigIntegerField(blank=True, help_text="minor units", null=True)),
                ("currency", labcases.core.models.Line(max_length=3, personal=False)),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
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
                    "held_for",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="destinations",
                        to="cases.case",
                    ),
                ),
                (
                    "owned_by",
                    models.ForeignKey(
                        blank=True,
                        help_text="a customer's own medium",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="people.party",
                    ),
                ),
                (
                    "thing",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="destination", to="custody.thing"
                    ),
                ),
                (
                    "family",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="stock.family",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(fields=["use", "state"], name="destination_by_state")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("held_for", None),
                                ("state__in", ["new and sealed", "wiped and verified"]),
                                ("written", False),
                            ),
                            models.Q(("held_for__isnull", False), ("state__in", ["assigned", "handed out"])),
                            models.Q(
                                ("held_for__isnull", False),
                                ("state__in", ["holds customer data", "kept"]),
                                ("written", True),
                            ),
                            ("state__in", ["retired", "being wiped", "wiped, not verified"]),
                            _connector="OR",
                        ),
                        name="destination_held_for_a_case_iff_in_its_service",
                        violation_error_message="A medium that serves a case names it; a clean one names none.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("sector_bytes__gte", 1), ("sectors__gte", 1)),
                        name="destination_has_a_size",
                        violation_error_message="Say how many sectors it has, and how large a sector is.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("owned_by", None), ("held_for__isnull", False), _connector="OR"),
                        name="destination_of_a_customer_serves_its_case",
                        violation_error_message="A customer's own medium belongs to a case, and serves that case only.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("owned_by", None),
                            models.Q(
                                ("state__in", ["being wiped", "wiped, not verified", "wiped and verified"]),
                                _negated=True,
                            ),
                            _connector="OR",
                        ),
                        name="destination_of_a_customer_is_never_wiped",
                        violation_error_message="A customer's own medium is never wiped here.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("healthy", False), ("state__in", ["new and sealed", "wiped and verified"]), _negated=True
                        ),
                        name="destination_that_failed_is_not_free",
                        violation_error_message="What failed its health check is retired, and serves nobody.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("held_for__isnull", False), ("written", False), _connector="OR"),
                        name="destination_with_data_names_whose",
                        violation_error_message="A medium with data on it names the case.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Donor",
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
                (
                    "source",
                    labcases.core.models.Line(
                        choices=[
                            ("bought", "bought"),
                            ("borrowed", "borrowed"),
                            ("given", "given"),
                            ("left", "left by a customer"),
                        ],
                        default="bought",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("supplier", labcases.core.models.Line(blank=True, max_length=200, personal=False)),
                ("cost", models.PositiveBigIntegerField(blank=True, help_text="minor units", null=True)),
                ("currency", labcases.core.models.Line(max_length=3, personal=False)),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
                ("scrapped", models.DateTimeField(blank=True, null=True)),
                (
                    "maker_key",
                    models.GeneratedField(
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("maker"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "model_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("model"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "serial_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("serial"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "firmware_key",
                    models.GeneratedField(
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("firmware"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "interface_key",
                    models.GeneratedField(
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("interface"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "plant_key",
                    models.GeneratedField(
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("plant"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "board_number_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("board_number"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "board_revision_key",
                    models.GeneratedField(
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("board_revision"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "main_chip_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("main_chip"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "preamplifier_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("preamplifier"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "motor_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("motor"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "base_casting_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("base_casting"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "flash_controller_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("flash_controller"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "bridge_number_key",
                    models.GeneratedField(
                        db_index=True,
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("bridge_number"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
                    ),
                ),
                (
                    "encryption_generation_key",
                    models.GeneratedField(
                        db_persist=True,
                        expression=django.db.models.functions.text.Lower(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            django.db.models.functions.text.Replace(
                                                                                django.db.models.functions.text.Replace(
                                                                                    models.F("encryption_generation"),
                                                                                    models.Value(" "),
                                                                                    models.Value(""),
                                                                                ),
                                                                                models.Value("-"),
                                                                                models.Value(""),
                                                                            ),
                                                                            models.Value("."),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("_"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("/"),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value(","),
                                                                models.Value(""),
                                                            ),
                                                            models.Value(":"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value("#"),
                                                        models.Value(""),
                                                    ),
                                                    models.Value("*"),
                                                    models.Value(""),
                                                ),
                                                models.Value("+"),
                                                models.Value(""),
                                            ),
                                            models.Value("("),
                                            models.Value(""),
                                        ),
                                        models.Value(")"),
                                        models.Value(""),
                                    ),
                                    models.Value("–"),
                                    models.Value(""),
                                ),
                                models.Value("‑"),
                                models.Value(""),
                            )
                        ),
                        output_field=models.CharField(max_length=100),
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
                    "thing",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="donor", to="custody.thing"
                    ),
                ),
                (
                    "family",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="stock.family",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="DonorPart",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "part",
                    labcases.core.models.Line(
                        choices=[
                            ("head stack", "head stack"),
                            ("controller board", "controller board"),
                            ("motor", "motor"),
                            ("ROM", "ROM"),
                            ("bridge board", "bridge board"),
                            ("connector", "connector"),
                            ("flash controller", "flash controller"),
                            ("chip", "chip"),
                            ("whole twin", "whole twin"),
                        ],
                        max_length=30,
                        personal=False,
                    ),
                ),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("free", "free"),
                            ("assigned", "assigned"),
                            ("used", "used"),
                            ("spoiled", "spoiled"),
                            ("returned", "returned to shelf"),
                        ],
                        default="free",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("stripped", models.DateTimeField(blank=True, help_text="when it was taken off its donor", null=True)),
                (
                    "heads_alive",
                    labcases.core.models.Line(
                        blank=True, help_text="of a head stack: 0 1 3; blank: not known", max_length=200, personal=False
                    ),
                ),
                (
                    "tested",
                    labcases.core.models.Line(
                        blank=True, help_text="how it was tested and what came out", max_length=200, personal=False
                    ),
                ),
                (
                    "test_result",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("good", "good"), ("partly", "good in part"), ("bad", "bad")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("tested_at", models.DateTimeField(blank=True, null=True)),
                (
                    "cost",
                    models.PositiveBigIntegerField(
                        blank=True, help_text="its share, in the donor's minor units", null=True
                    ),
                ),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
                ("reserved_until", models.DateTimeField(blank=True, null=True)),
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
                    "donor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="parts", to="stock.donor"
                    ),
                ),
                (
                    "reserved_for",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reserved_parts",
                        to="cases.item",
                    ),
                ),
                (
                    "tested_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "thing",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="donor_part", to="custody.thing"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "indexes": [models.Index(fields=["part", "state"], name="part_by_kind_and_state")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("part__in", ["chip", "connector"]), _negated=True),
                        fields=("donor", "part"),
                        name="one_part_of_a_kind_per_donor",
                        violation_error_message="This donor's part is listed already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reserved_for", None), ("reserved_until", None)),
                            models.Q(
                                ("reserved_for__isnull", False),
                                ("reserved_until__isnull", False),
                                ("state__in", ["free", "returned"]),
                            ),
                            _connector="OR",
                        ),
                        name="part_reserved_for_a_patient_until_a_time",
                        violation_error_message="A part is reserved for a patient, until a time, while it is on the shelf.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="FamilyAlias",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("maker", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                (
                    "model_start",
                    labcases.core.models.Line(
                        help_text="folded: capitals and digits only", max_length=100, personal=False
                    ),
                ),
                (
                    "family",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="aliases", to="stock.family"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("maker", "model_start"),
                        name="family_alias_once",
                        violation_error_message="A family is known by this maker and model already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FamilySize",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("gigabytes", models.PositiveIntegerField(help_text="as printed on the label")),
                ("heads", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("platters", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "family",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="sizes", to="stock.family"
                    ),
                ),
            ],
            options={
                "ordering": ["gigabytes"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("family", "gigabytes"),
                        name="family_size_once",
                        violation_error_message="This family lists that capacity already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("gigabytes__gte", 1)),
                        name="family_size_is_a_capacity",
                        violation_error_message="A capacity is 1 GB or more.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="HealthCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("passed", models.BooleanField()),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "self_test",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("", "not run"),
                            ("passed", "passed"),
                            ("failed", "failed"),
                            ("broken off", "broken off"),
                        ],
                        max_length=12,
                        personal=False,
                    ),
                ),
                ("reallocated", models.PositiveBigIntegerField(blank=True, help_text="reallocated sectors", null=True)),
                (
                    "pending",
                    models.PositiveBigIntegerField(
                        blank=True, help_text="sectors that wait to be reallocated", null=True
                    ),
                ),
                ("hours", models.PositiveIntegerField(blank=True, help_text="powered on", null=True)),
                (
                    "tool",
                    labcases.core.models.Line(
                        blank=True, help_text="what was used, with its version", max_length=200, personal=False
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
                    "destination",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="health_checks",
                        to="stock.destination",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("passed", True), models.Q(("because", ""), _negated=True), _connector="OR"),
                        name="failed_health_check_says_why",
                        violation_error_message="Say why it failed.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LabelCode",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("name", labcases.core.models.Line(max_length=40, personal=False, unique=True)),
                (
                    "stands",
                    labcases.core.models.Line(
                        blank=True, help_text="on which label it stands, and where", max_length=200, personal=False
                    ),
                ),
                ("in_use", models.BooleanField(default=True)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="Need",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "part",
                    labcases.core.models.Line(
                        choices=[
                            ("head stack", "head stack"),
                            ("controller board", "controller board"),
                            ("motor", "motor"),
                            ("ROM", "ROM"),
                            ("bridge board", "bridge board"),
                            ("connector", "connector"),
                            ("flash controller", "flash controller"),
                            ("chip", "chip"),
                            ("whole twin", "whole twin"),
                        ],
                        max_length=30,
                        personal=False,
                    ),
                ),
                (
                    "attributes",
                    models.JSONField(default=list, help_text="[{label, level, value}] of the patient, by the rules"),
                ),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("to buy", "to buy"),
                            ("ordered", "ordered"),
                            ("arrived", "arrived"),
                            ("wrong", "wrong inside"),
                            ("returned", "returned"),
                            ("met", "met"),
                            ("dropped", "no longer needed"),
                        ],
                        default="to buy",
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "supplier",
                    labcases.core.models.Line(
                        blank=True, help_text="where it is ordered", max_length=200, personal=False
                    ),
                ),
                ("price", models.PositiveBigIntegerField(blank=True, help_text="minor units", null=True)),
                ("currency", labcases.core.models.Line(blank=True, max_length=3, personal=False)),
                ("promised", models.DateField(blank=True, null=True)),
                (
                    "non_refundable",
                    models.BooleanField(default=False, help_text="the customer pays it whatever comes of it"),
                ),
                ("ordered", models.DateTimeField(blank=True, null=True)),
                ("arrived", models.DateTimeField(blank=True, null=True)),
                (
                    "because",
                    labcases.core.models.Prose(
                        blank=True, help_text="what was wrong, or why it is no longer needed", personal=False
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
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="needs", to="cases.item"
                    ),
                ),
                (
                    "met_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="needs_met",
                        to="stock.donorpart",
                    ),
                ),
                (
                    "offered",
                    models.ForeignKey(
                        blank=True,
                        help_text="new stock that may do",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="stock.donorpart",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(fields=["state", "part"], name="need_by_state")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state__in", ["to buy", "ordered", "arrived", "wrong"])),
                        fields=("item", "part"),
                        name="one_open_need_of_a_kind_per_patient",
                        violation_error_message="This part is on the list to buy for this patient already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ordered", None), models.Q(("supplier", ""), _negated=True), _connector="OR"
                        ),
                        name="ordered_need_says_where",
                        violation_error_message="Say where it is ordered.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "met"), _negated=True), ("met_by__isnull", False), _connector="OR"
                        ),
                        name="met_need_names_its_part",
                        violation_error_message="A need that is met names the part that met it.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PartAssignment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "verdict",
                    models.JSONField(help_text="what was the same, near, unknown or different when it was assigned"),
                ),
                (
                    "lifted",
                    labcases.core.models.Prose(
                        blank=True, help_text="why a manager let a part go that does not match", personal=False
                    ),
                ),
                (
                    "answered",
                    labcases.core.models.Prose(
                        blank=True, help_text="the answer to what was asked before it was fitted", personal=False
                    ),
                ),
                ("ended", models.DateTimeField(blank=True, null=True)),
                (
                    "outcome",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("worked", "worked"), ("partly", "worked partly"), ("failed", "failed")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="part_assignments", to="cases.item"
                    ),
                ),
                (
                    "part",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="assignments", to="stock.donorpart"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended", None)),
                        fields=("part",),
                        name="part_serves_one_patient",
                        violation_error_message="This part already serves a patient.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Pool",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("name", labcases.core.models.Line(max_length=100, personal=False, unique=True)),
                (
                    "where",
                    labcases.core.models.Line(
                        blank=True, help_text="which machine, which path", max_length=200, personal=False
                    ),
                ),
                ("capacity", models.PositiveBigIntegerField(help_text="bytes that images may take")),
                (
                    "reserved",
                    models.PositiveBigIntegerField(default=0, help_text="bytes, the sum over its open images"),
                ),
                ("in_use", models.BooleanField(default=True)),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reserved__gte", 0), ("reserved__lte", models.F("capacity"))),
                        name="pool_holds_what_is_reserved",
                        violation_error_message="The reservations of a pool never pass its capacity.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("capacity__gte", 1)),
                        name="pool_has_a_capacity",
                        violation_error_message="Say how many bytes images may take.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PoolImage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("size", models.PositiveBigIntegerField(help_text="bytes reserved")),
                ("fit", models.JSONField(help_text="sizes, compared when it was assigned")),
                ("ended", models.DateTimeField(blank=True, null=True)),
                (
                    "end",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("released", "released unwritten"), ("erased", "erased")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "encrypted_with",
                    labcases.core.models.Line(
                        blank=True, help_text="what closed the image with its key", max_length=200, personal=False
                    ),
                ),
                (
                    "seen_how",
                    labcases.core.models.Line(
                        blank=True, help_text="how it was seen that it does not open", max_length=200, personal=False
                    ),
                ),
                ("ended_role", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
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
                    "ended_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="pool_images", to="cases.item"
                    ),
                ),
                (
                    "key",
                    models.ForeignKey(
                        help_text="destroying it erases the image",
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pool_images",
                        to="cases.casesecret",
                    ),
                ),
                (
                    "pool",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="images", to="stock.pool"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended", None)),
                        fields=("pool", "item"),
                        name="one_image_of_a_patient_on_a_pool",
                        violation_error_message="Room for this patient is reserved on this pool already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("size__gte", 1)),
                        name="image_has_a_size",
                        violation_error_message="Say how many bytes to reserve.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("end", ""), ("ended", None)),
                            models.Q(("end", "released"), ("ended__isnull", False)),
                            models.Q(
                                models.Q(("encrypted_with", ""), _negated=True),
                                models.Q(("seen_how", ""), _negated=True),
                                ("end", "erased"),
                                ("ended__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="erased_image_says_how",
                        violation_error_message="An erased image says what closed it, and how it was seen not to open.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RuleSet",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "part",
                    labcases.core.models.Line(
                        choices=[
                            ("head stack", "head stack"),
                            ("controller board", "controller board"),
                            ("motor", "motor"),
                            ("ROM", "ROM"),
                            ("bridge board", "bridge board"),
                            ("connector", "connector"),
                            ("flash controller", "flash controller"),
                            ("chip", "chip"),
                            ("whole twin", "whole twin"),
                        ],
                        max_length=30,
                        personal=False,
                    ),
                ),
                ("version", models.PositiveIntegerField()),
                (
                    "rules",
                    models.JSONField(
                        blank=True, help_text="None: back to what they were before the lab had its own", null=True
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
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
                    "family",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rule_sets",
                        to="stock.family",
                    ),
                ),
            ],
            options={
                "ordering": ["-version"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("part", "family", "version"),
                        name="rules_version_once_per_family",
                        violation_error_message="Somebody else changed these rules at the same moment. Look again.",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("family", None)),
                        fields=("part", "version"),
                        name="rules_version_once",
                        violation_error_message="Somebody else changed these rules at the same moment. Look again.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Stocktake",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "words",
                    labcases.core.models.Line(blank=True, help_text="what it is for", max_length=100, personal=False),
                ),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[("open", "open"), ("signed off", "signed off"), ("dropped", "dropped")],
                        default="open",
                        max_length=12,
                        personal=False,
                    ),
                ),
                ("ended", models.DateTimeField(blank=True, null=True)),
                ("ended_role", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
                (
                    "because",
                    labcases.core.models.Prose(
                        blank=True, help_text="what whoever signed it said, or why it was dropped", personal=False
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
                    "ended_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("places", models.ManyToManyField(related_name="stocktakes", to="lab.place")),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended", None), ("state", "open")),
                            models.Q(models.Q(("state", "open"), _negated=True), ("ended__isnull", False)),
                            _connector="OR",
                        ),
                        name="stocktake_that_is_over_says_when",
                        violation_error_message="A stocktake that was signed off or dropped says when.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TakeLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "code",
                    labcases.core.models.Line(
                        help_text="folded; or what was read, when it is no code of ours", max_length=40, personal=False
                    ),
                ),
                (
                    "outcome",
                    labcases.core.models.Line(
                        choices=[
                            ("expected", "expected, not found yet"),
                            ("found", "found"),
                            ("misplaced", "found on another shelf"),
                            ("unexpected", "not expected here"),
                            ("unknown", "unknown code"),
                        ],
                        max_length=12,
                        personal=False,
                    ),
                ),
                ("counted", models.DateTimeField(null=True)),
                (
                    "answer",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("here", "lies here now"),
                            ("back", "carried back to where it belongs"),
                            ("missing", "missing"),
                            ("noted", "noted"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "counted_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "expected_at",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lab.place"
                    ),
                ),
                (
                    "found_at",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lab.place"
                    ),
                ),
                (
                    "take",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="stock.stocktake"
                    ),
                ),
                (
                    "thing",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="custody.thing"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "indexes": [models.Index(fields=["take", "outcome"], name="take_line_by_outcome")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("take", "code"),
                        name="code_once_per_stocktake",
                        violation_error_message="This code was counted already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("counted", None), ("found_at", None), ("outcome", "expected")),
                            models.Q(
                                models.Q(("outcome", "expected"), _negated=True),
                                ("counted__isnull", False),
                                ("found_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="counted_line_says_where_and_when",
                        violation_error_message="What is counted says where and when.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("expected_at__isnull", False),
                                ("outcome__in", ["expected", "found", "misplaced"]),
                                ("thing__isnull", False),
                            ),
                            models.Q(("expected_at", None), ("outcome__in", ["unexpected", "unknown"])),
                            _connector="OR",
                        ),
                        name="take_line_was_expected_or_not",
                        violation_error_message="What was expected has a place where the book says it lies.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Wipe",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("running", "running"),
                            ("ended", "ended, to be verified"),
                            ("verified", "verified"),
                            ("failed", "failed"),
                            ("stopped", "stopped"),
                            ("not passed", "verification not passed"),
                        ],
                        default="running",
                        max_length=12,
                        personal=False,
                    ),
                ),
                (
                    "was",
                    labcases.core.models.Line(
                        blank=True, help_text="state of the medium before", max_length=30, personal=False
                    ),
                ),
                (
                    "standard",
                    labcases.core.models.Line(
                        default="NIST SP 800-88 Rev. 1",
                        help_text="whose words these are",
                        max_length=60,
                        personal=False,
                    ),
                ),
                (
                    "method",
                    labcases.core.models.Line(
                        choices=[("clear", "clear"), ("purge", "purge"), ("destroy", "destroy")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("technique", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                (
                    "tool",
                    labcases.core.models.Line(
                        help_text="what was used, with its version", max_length=200, personal=False
                    ),
                ),
                (
                    "port",
                    labcases.core.models.Line(
                        blank=True, help_text="machine and port it runs on", max_length=100, personal=False
                    ),
                ),
                ("expected_end", models.DateTimeField(blank=True, null=True)),
                ("ended", models.DateTimeField(blank=True, null=True)),
                (
                    "ended_because",
                    labcases.core.models.Prose(
                        blank=True, help_text="why it failed, was stopped, or did not pass", personal=False
                    ),
                ),
                (
                    "verified",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("full", "every sector read back"),
                            ("sampled", "samples read back"),
                            ("seen", "seen destroyed"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "share",
                    models.PositiveSmallIntegerField(
                        blank=True, help_text="per cent of the sectors read back", null=True
                    ),
                ),
                (
                    "verified_with",
                    labcases.core.models.Line(
                        blank=True, help_text="what read it back, with its version", max_length=200, personal=False
                    ),
                ),
                ("verified_at", models.DateTimeField(blank=True, null=True)),
                ("verified_role", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
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
                        help_text="whose data it held",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="cases.case",
                    ),
                ),
                (
                    "destination",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="wipes", to="stock.destination"
                    ),
                ),
                (
                    "verified_by",
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
                        condition=models.Q(("state__in", ["running", "ended"])),
                        fields=("destination",),
                        name="one_wipe_of_a_medium_at_a_time",
                        violation_error_message="A wipe of this medium is going on already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended", None), ("state", "running")),
                            models.Q(models.Q(("state", "running"), _negated=True), ("ended__isnull", False)),
                            _connector="OR",
                        ),
                        name="wipe_that_runs_has_no_end",
                        violation_error_message="A wipe runs, or has its end.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("ended", None), ("ended__gte", models.F("happened")), _connector="OR"),
                        name="wipe_ends_after_it_began",
                        violation_error_message="A wipe ends after it began.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("verified", ""), ("verified_at", None)),
                            models.Q(
                                models.Q(("verified", ""), _negated=True),
                                ("ended__isnull", False),
                                ("verified_at__gte", models.F("ended")),
                                ("verified_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="wipe_is_verified_after_its_end",
                        violation_error_message="A wipe is verified after its end: how, and when.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ["verified", "not passed"]), ("verified_at__isnull", False)),
                            models.Q(
                                models.Q(("state__in", ["verified", "not passed"]), _negated=True),
                                ("verified_at", None),
                            ),
                            _connector="OR",
                        ),
                        name="only_a_verified_wipe_counts",
                        violation_error_message="A wipe that failed, was stopped or still runs is not verified.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("share", None),
                            models.Q(("share__range", (1, 99)), ("verified", "sampled")),
                            _connector="OR",
                        ),
                        name="wipe_share_is_of_samples",
                        violation_error_message="Samples cover 1 to 99 per cent; all of it is every sector.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="DestinationAssignment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "fit",
                    models.JSONField(
                        help_text="sectors and bytes of both when it was assigned, and what was warned of"
                    ),
                ),
                ("ended", models.DateTimeField(blank=True, null=True)),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
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
                    "destination",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="assignments", to="stock.destination"
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="destination_assignments",
                        to="cases.item",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended", None)),
                        fields=("destination",),
                        name="destination_serves_one_patient",
                        violation_error_message="This medium already serves a patient.",
                    )
                ],
            },
        ),
    ]
