import django.db.models.deletion
import django.db.models.expressions
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [
        ("bench", "0001_first"),
        ("bench", "0002_first"),
        ("bench", "0003_clock"),
        ("bench", "0004_dumps"),
        ("bench", "0005_reading_and_arrays"),
        ("bench", "0006_protocols"),
        ("bench", "0007_stations_and_records"),
        ("bench", "0008_file_lists"),
    ]

    initial = True

    dependencies = [
        ("cases", "0002_joins"),
        ("lab", "__first__"),
        ("stock", "0001_tables"),
    ]

    operations = [
        migrations.CreateModel(
            name="Competence",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "work",
                    labcases.core.models.Line(
                        choices=[
                            ("counter", "taking in and handing over"),
                            ("boards", "boards: inspection and repair"),
                            ("clean", "openings in clean air"),
                            ("heads", "head and motor work"),
                            ("firmware", "firmware and ROM"),
                            ("imaging", "reading and imaging"),
                            ("chips", "chip removal and reading"),
                            ("logical", "file systems and files"),
                            ("arrays", "arrays"),
                            ("erasing", "wiping and destroying"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "shown_by",
                    labcases.core.models.Prose(
                        help_text="training, cases worked under somebody, examination", personal=False
                    ),
                ),
                ("look_again", models.DateField(blank=True, null=True)),
                ("ended", models.DateTimeField(blank=True, null=True)),
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
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="competences",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["person__name", "work"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended", None)),
                        fields=("person", "work"),
                        name="one_standing_competence_per_work",
                        violation_error_message="This is on record already. End it first, or look at it again.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("ended", None), ("ended__gte", models.F("happened")), _connector="OR"),
                        name="competence_ends_after_it_began",
                        violation_error_message="It cannot have ended before it began.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CoverageUpload",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("number", models.PositiveIntegerField(help_text="counts from 1 for each item")),
                (
                    "source",
                    labcases.core.models.Line(
                        choices=[("table", "table"), ("hand", "by hand"), ("station", "bench computer")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "verb",
                    labcases.core.models.Line(
                        choices=[("overlay", "lays over what is known"), ("withdraw", "takes back what is known")],
                        default="overlay",
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "name",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="name of the file, or the words it was entered with",
                        max_length=300,
                        personal=True,
                    ),
                ),
                ("pass_number", models.PositiveSmallIntegerField(default=1)),
                ("head", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "because",
                    labcases.core.models.Prose(
                        blank=True, help_text="why sectors are doubted or taken back", personal=False
                    ),
                ),
                (
                    "file",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the bytes as they came, in the vault, hex", max_length=64, personal=False
                    ),
                ),
                ("size", models.PositiveBigIntegerField(help_text="bytes of the file")),
                (
                    "spans",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the spans as columns (Parquet), in the vault, hex",
                        max_length=64,
                        personal=False,
                    ),
                ),
                ("rows", models.PositiveBigIntegerField(help_text="spans in it")),
                (
                    "signature",
                    labcases.core.models.Line(
                        blank=True, help_text="SHA-256 over the headers of its table", max_length=64, personal=False
                    ),
                ),
                ("how", models.JSONField(default=dict, help_text="how its columns and words were read")),
                ("notes", models.JSONField(default=list, help_text="what was put right by rule, in sentences")),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="coverage_uploads", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["item_id", "number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("item", "number"),
                        name="coverage_upload_number_once_per_item",
                        violation_error_message="An upload of this number is there already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("file", ""), _negated=True), models.Q(("spans", ""), _negated=True)
                        ),
                        name="coverage_upload_keeps_its_bytes",
                        violation_error_message="An upload keeps the bytes it came as.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("verb", "overlay"),
                            models.Q(("verb", "withdraw"), models.Q(("because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="sectors_taken_back_say_why",
                        violation_error_message="Say why these sectors are taken back.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CoverageWithdrawal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("because", labcases.core.models.Prose(personal=False)),
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
                    "upload",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawal",
                        to="bench.coverageupload",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("because", ""), _negated=True),
                        name="withdrawal_says_why",
                        violation_error_message="Say why this upload is withdrawn.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Derivation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("made", models.DateTimeField(auto_now_add=True)),
                (
                    "digest",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the coverage (Parquet), in the vault, hex", max_length=64, personal=False
                    ),
                ),
                (
                    "uploads",
                    labcases.core.models.Prose(
                        blank=True, help_text="numbers of the uploads it was worked out from: 1-4,6", personal=False
                    ),
                ),
                ("total_sectors", models.PositiveBigIntegerField()),
                ("runs", models.PositiveBigIntegerField()),
                ("read", models.PositiveBigIntegerField()),
                ("doubtful", models.PositiveBigIntegerField()),
                ("unreadable", models.PositiveBigIntegerField()),
                ("skipped", models.PositiveBigIntegerField()),
                ("left_out", models.PositiveBigIntegerField()),
                ("unreached", models.PositiveBigIntegerField()),
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="derivations", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "total_sectors",
                                django.db.models.expressions.CombinedExpression(
                                    django.db.models.expressions.CombinedExpression(
                                        django.db.models.expressions.CombinedExpression(
                                            django.db.models.expressions.CombinedExpression(
                                                django.db.models.expressions.CombinedExpression(
                                                    models.F("read"), "+", models.F("doubtful")
                                                ),
                                                "+",
                                                models.F("unreadable"),
                                            ),
                                            "+",
                                            models.F("skipped"),
                                        ),
                                        "+",
                                        models.F("left_out"),
                                    ),
                                    "+",
                                    models.F("unreached"),
                                ),
                            )
                        ),
                        name="coverage_counts_add_up",
                        violation_error_message="The counts of a coverage add up to the sectors of the medium.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Dump",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("rom", "ROM"),
                            ("module", "service-area module"),
                            ("track", "service-area track"),
                            ("chip", "chip read"),
                            ("key", "key"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "name",
                    labcases.core.models.Line(
                        blank=True, help_text="which module, track or chip", max_length=100, personal=False
                    ),
                ),
                (
                    "outcome",
                    labcases.core.models.Line(
                        choices=[
                            ("whole", "whole"),
                            ("partly", "partly"),
                            ("not reachable", "not reachable"),
                            ("not worth", "not worth the stress"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "file",
                    labcases.core.models.Line(
                        blank=True, help_text="SHA-256 of the file in the vault, hex", max_length=64, personal=False
                    ),
                ),
                (
                    "second",
                    labcases.core.models.Line(
                        blank=True, help_text="SHA-256 of the second reading, hex", max_length=64, personal=False
                    ),
                ),
                ("size", models.PositiveBigIntegerField(blank=True, help_text="bytes", null=True)),
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
                    "family",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="dumps",
                        to="stock.family",
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="dumps",
                        to="cases.item",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(fields=["family", "kind"], name="dump_of_family")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("item__isnull", False), ("family__isnull", False), _connector="OR"),
                        name="dump_of_item_or_family",
                        violation_error_message="A dump is of an item or of a family.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("outcome__in", ["whole", "partly"]),
                                ("size__isnull", False),
                                models.Q(("file", ""), _negated=True),
                            ),
                            models.Q(
                                ("file", ""),
                                ("outcome__in", ["not reachable", "not worth"]),
                                ("second", ""),
                                ("size", None),
                            ),
                            _connector="OR",
                        ),
                        name="dump_has_its_file_iff_read",
                        violation_error_message="What was read has its file; what was not read has none.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Equipment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("name", labcases.core.models.Line(max_length=100, personal=False, unique=True)),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("machine", "bench machine"),
                            ("clean bench", "clean bench"),
                            ("soldering", "soldering and hot air"),
                            ("reader", "chip reader"),
                            ("meter", "meter"),
                            ("microscope", "microscope"),
                            ("other", "something else"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                ("serial", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
                ("retired", models.DateTimeField(blank=True, null=True)),
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
            name="Examination",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("faults", models.JSONField(default=list)),
                ("found", labcases.core.models.Prose(help_text="what was seen and measured", personal=True)),
                ("inside", models.BooleanField(default=False, help_text="opened and inspected in clean air")),
                (
                    "prospects",
                    labcases.core.models.Line(
                        choices=[("good", "good"), ("fair", "fair"), ("poor", "poor"), ("none", "none")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "would_change",
                    labcases.core.models.Prose(blank=True, help_text="what would change the prospects", personal=False),
                ),
                ("needs_part", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("parts", models.JSONField(blank=True, default=list, help_text="kinds of donor parts that are needed")),
                ("readings", models.JSONField(blank=True, default=list, help_text="[[what, value, unit]] as measured")),
                ("sounds", models.JSONField(blank=True, default=list)),
                ("hours_people", models.DecimalField(blank=True, decimal_places=2, max_digits=6, null=True)),
                ("hours_machine", models.DecimalField(blank=True, decimal_places=2, max_digits=7, null=True)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="examinations", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="HeadMap",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "name",
                    labcases.core.models.Line(blank=True, help_text="name of the file", max_length=300, personal=True),
                ),
                (
                    "file",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the table as it came, in the vault, hex", max_length=64, personal=False
                    ),
                ),
                (
                    "spans",
                    labcases.core.models.Line(
                        help_text="SHA-256 of first, sectors, head as columns (Parquet), in the vault, hex",
                        max_length=64,
                        personal=False,
                    ),
                ),
                ("rows", models.PositiveBigIntegerField()),
                ("heads", models.JSONField(help_text="the numbers of the heads in it")),
                ("low_is_outer", models.BooleanField(default=True, help_text="low sector numbers lie on outer tracks")),
                ("notes", models.JSONField(default=list)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="head_maps", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="HeadVerdict",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("head", models.PositiveSmallIntegerField()),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("good", "good"),
                            ("slow", "slow"),
                            ("weak", "weak"),
                            ("dead", "dead"),
                            ("left_out", "left out"),
                            ("computed", "as its readings say"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(personal=False)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="head_verdicts", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="ItemCoverage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("version", models.PositiveIntegerField(default=0)),
                ("derived", models.PositiveIntegerField(default=0, help_text="the version that the derivation holds")),
                (
                    "trouble",
                    labcases.core.models.Prose(
                        blank=True, help_text="why it cannot be worked out, in a sentence", personal=False
                    ),
                ),
                (
                    "derivation",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.SET_NULL, related_name="+", to="bench.derivation"
                    ),
                ),
                (
                    "item",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="coverage", to="cases.item"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("derived__lte", models.F("version"))),
                        name="coverage_follows_its_uploads",
                        violation_error_message="A coverage holds no more than was uploaded.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="KeptLayout",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "source",
                    labcases.core.models.Line(
                        blank=True, help_text="name of the file it was read from", max_length=300, personal=True
                    ),
                ),
                ("kind", labcases.core.models.Line(help_text="gpt, mbr, none or typed", max_length=10, personal=False)),
                ("status", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("sector_bytes", models.PositiveIntegerField(default=512)),
                (
                    "parts",
                    models.JSONField(
                        default=list, help_text="number, first_lba, sectors, type_name, name, volume of each part"
                    ),
                ),
                ("warnings", models.JSONField(default=list)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="layouts", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="LogLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "what",
                    labcases.core.models.Line(
                        choices=[
                            ("count", "particles counted"),
                            ("filter", "filter changed"),
                            ("cleaned", "cleaned"),
                            ("calibrated", "calibrated"),
                            ("checked", "checked"),
                            ("repaired", "repaired"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "particles",
                    models.PositiveBigIntegerField(
                        blank=True, help_text="of 0.5 µm and more, in a cubic metre", null=True
                    ),
                ),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
                ("next_due", models.DateField(blank=True, null=True)),
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
                    "equipment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="log", to="bench.equipment"
                    ),
                ),
            ],
            options={
                "ordering": ["-happened", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("what", "count"), _negated=True), ("particles__isnull", False), _connector="OR"
                        ),
                        name="particle_count_has_its_number",
                        violation_error_message="Say how many particles were counted.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Mishap",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("what", labcases.core.models.Prose(personal=True)),
                ("why", labcases.core.models.Prose(blank=True, personal=False)),
                ("done", labcases.core.models.Prose(blank=True, personal=False)),
                ("closed", models.DateTimeField(blank=True, null=True)),
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
                    "closed_by",
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
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="mishaps",
                        to="cases.item",
                    ),
                ),
            ],
            options={
                "ordering": ["-happened", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("closed", None),
                            models.Q(models.Q(("why", ""), _negated=True), models.Q(("done", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="closed_mishap_says_why_and_what_was_done",
                        violation_error_message="Say why it happened and what was done before it is closed.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OrderNote",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "key",
                    labcases.core.models.Line(help_text="of the step, or step/stop", max_length=120, personal=False),
                ),
                (
                    "how",
                    labcases.core.models.Line(
                        choices=[("done", "done"), ("passed", "passed by"), ("lifted", "lifted")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=True)),
                ("ended", models.DateTimeField(blank=True, help_text="when it was taken back", null=True)),
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
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="order_notes", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended", None)),
                        fields=("item", "key"),
                        name="one_standing_note_per_step",
                        violation_error_message="This was answered in the meantime. Open the bench order again.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("how", "done"), models.Q(("because", ""), _negated=True), _connector="OR"),
                        name="what_was_passed_by_has_its_reason",
                        violation_error_message="Say why it is passed by.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PlanVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("number", models.PositiveIntegerField()),
                ("asked", models.JSONField(help_text="pass, damage, heads, areas and steps it was made for")),
                (
                    "kept_back",
                    models.JSONField(default=dict, help_text="sectors not read that this pass leaves alone, by reason"),
                ),
                (
                    "file",
                    labcases.core.models.Line(
                        help_text="SHA-256 of its lines (Parquet), in the vault, hex", max_length=64, personal=False
                    ),
                ),
                ("spans", models.PositiveBigIntegerField()),
                ("sectors", models.PositiveBigIntegerField()),
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
                    "derivation",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="plans",
                        to="bench.derivation",
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="plans", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["item_id", "number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("item", "number"),
                        name="plan_number_once_per_item",
                        violation_error_message="A plan of this number is there already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Port",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", labcases.core.models.Line(max_length=40, personal=False)),
                (
                    "equipment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="ports", to="bench.equipment"
                    ),
                ),
            ],
            options={
                "ordering": ["equipment__name", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("equipment", "name"),
                        name="port_name_once_per_machine",
                        violation_error_message="This machine has a port of that name already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Presence",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("seen", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="presences", to="cases.case"
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["seen"], name="presence_seen")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "case"),
                        name="presence_once",
                        violation_error_message="This person is there already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Progress",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("pass_number", models.PositiveSmallIntegerField(default=1)),
                ("head", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("sectors", models.PositiveBigIntegerField()),
                ("wanted_bytes", models.PositiveBigIntegerField(default=0)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="progress", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["happened", "pk"],
                "indexes": [models.Index(fields=["item", "happened"], name="progress_of_item")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("item", "pass_number", "head", "happened"),
                        name="one_progress_a_moment_of_a_head",
                        violation_error_message="There is a reading of this pass and head at that moment already.",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("head", None)),
                        fields=("item", "pass_number", "happened"),
                        name="one_progress_a_moment_of_a_pass",
                        violation_error_message="There is a reading of this pass at that moment already.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ProtocolVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("disk", "spinning disk"),
                            ("helium", "helium-filled disk"),
                            ("shingled", "shingled disk"),
                            ("ssd", "SSD (SATA, M.2, NVMe, soldered)"),
                            ("stick", "stick or card"),
                            ("chip", "bare chip, eMMC or UFS"),
                            ("array", "array and its members"),
                            ("plain", "any other medium"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("steps", models.JSONField(help_text="the steps, as bench/protocol_record.py writes them")),
                (
                    "because",
                    labcases.core.models.Prose(blank=True, help_text="what was changed, and why", personal=False),
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
            ],
            options={
                "ordering": ["kind", "-number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("kind", "number"),
                        name="protocol_version_once",
                        violation_error_message="Somebody made a version of this protocol in the meantime. Open it again.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind__in", ["disk", "helium", "shingled", "ssd", "stick", "chip", "array", "plain"])
                        ),
                        name="protocol_kind_is_known",
                        violation_error_message="There is no protocol of this kind.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="KeptProtocol",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "item",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="kept_protocol", to="cases.item"
                    ),
                ),
                (
                    "version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="kept_by", to="bench.protocolversion"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ReadingArea",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "purpose",
                    labcases.core.models.Line(
                        choices=[("structures", "structures of the file system"), ("wanted", "wanted")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "name",
                    labcases.core.models.Line(help_text="partition, folder or file", max_length=300, personal=True),
                ),
                (
                    "spans",
                    labcases.core.models.Line(
                        help_text="SHA-256 of its spans (Parquet), in the vault, hex", max_length=64, personal=False
                    ),
                ),
                ("sectors", models.PositiveBigIntegerField()),
                ("dropped", models.DateTimeField(help_text="when it was taken out again", null=True)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="areas", to="cases.item"
                    ),
                ),
                (
                    "wanted",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="areas",
                        to="cases.wanted",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("purpose", "structures"), ("wanted", None)),
                            models.Q(("purpose", "wanted"), ("wanted__isnull", False)),
                            _connector="OR",
                        ),
                        name="wanted_area_names_its_line",
                        violation_error_message="A wanted area names the line of the wanted list it belongs to.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Result",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("sectors_read", models.PositiveBigIntegerField(blank=True, null=True)),
                ("sectors_total", models.PositiveBigIntegerField(blank=True, null=True)),
                ("files", models.PositiveBigIntegerField(blank=True, null=True)),
                ("bytes", models.PositiveBigIntegerField(blank=True, null=True)),
                (
                    "compared",
                    labcases.core.models.Line(
                        choices=[
                            ("full", "every file compared with the clone"),
                            ("sampled", "samples compared with the clone"),
                            ("not", "not compared"),
                        ],
                        default="not",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("malware_check", labcases.core.models.Line(blank=True, max_length=200, personal=False)),
                (
                    "samples",
                    labcases.core.models.Prose(
                        blank=True, help_text="which samples were opened, and by whom", personal=True
                    ),
                ),
                (
                    "not_recovered",
                    labcases.core.models.Prose(blank=True, help_text="what was not recovered, and why", personal=True),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="results", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sectors_read", None),
                            ("sectors_total", None),
                            ("sectors_read__lte", models.F("sectors_total")),
                            _connector="OR",
                        ),
                        name="no_more_sectors_read_than_there_are",
                        violation_error_message="More sectors read than there are.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Session",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "doing",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="what it does: first pass, wipe, chip read",
                        max_length=200,
                        personal=False,
                    ),
                ),
                ("ended", models.DateTimeField(blank=True, null=True)),
                (
                    "ending",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("finished", "finished"),
                            ("stopped", "stopped by hand"),
                            ("failed", "the patient failed"),
                            ("power cut", "power cut"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("hands_on", models.PositiveIntegerField(blank=True, help_text="minutes of people", null=True)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="sessions", to="cases.item"
                    ),
                ),
                (
                    "port",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sessions", to="bench.port"
                    ),
                ),
                (
                    "watcher",
                    models.ForeignKey(
                        blank=True,
                        help_text="who looks at it tonight",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-happened", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended", None)),
                        fields=("port",),
                        name="port_runs_one_patient",
                        violation_error_message="A patient runs on this port already. End that first.",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("ended", None)),
                        fields=("item",),
                        name="patient_runs_on_one_port",
                        violation_error_message="This patient runs on a port already. End that first.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("ended", None), ("ended__gte", models.F("happened")), _connector="OR"),
                        name="session_ends_after_it_began",
                        violation_error_message="It cannot have ended before it began.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Step",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("what", labcases.core.models.Prose(personal=True)),
                ("method", labcases.core.models.Line(blank=True, max_length=200, personal=False)),
                (
                    "change",
                    labcases.core.models.Prose(
                        blank=True,
                        help_text="a change to the patient that could not be avoided, and why",
                        personal=False,
                    ),
                ),
                (
                    "wrote",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("", "nothing"),
                            ("firmware", "its firmware, ROM or service area"),
                            ("user-area", "its user area"),
                        ],
                        help_text="what was written on it",
                        max_length=10,
                        personal=False,
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="steps", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("wrote", ""),
                            models.Q(("wrote", "firmware"), models.Q(("change", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="written_firmware_says_why",
                        violation_error_message="Say what was written, and why; the user area of a patient is never written.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WantedResult",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("whole", "whole"),
                            ("partial", "partial"),
                            ("not", "not recovered"),
                            ("unknown", "not known"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("words", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
                (
                    "result",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="wanted", to="bench.result"
                    ),
                ),
                (
                    "wanted",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="results", to="cases.wanted"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("result", "wanted"),
                        name="one_answer_per_wanted_line",
                        violation_error_message="Each wanted line has one answer in a result.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ArrayFinding",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "level",
                    labcases.core.models.Line(
                        choices=[
                            ("linear", "one after another"),
                            ("0", "striped, no parity (RAID 0)"),
                            ("1", "mirrored (RAID 1)"),
                            ("4", "one member for parity (RAID 4)"),
                            ("5", "single parity, rotating (RAID 5)"),
                            ("6", "double parity, rotating (RAID 6)"),
                            ("10", "striped mirrors (RAID 10)"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("members", models.PositiveSmallIntegerField(help_text="members it was made of")),
                (
                    "stripe_sectors",
                    models.PositiveIntegerField(blank=True, help_text="sectors of one stripe unit", null=True),
                ),
                (
                    "parity",
                    labcases.core.models.Line(
                        blank=True, help_text="how parity rotates", max_length=40, personal=False
                    ),
                ),
                (
                    "copies",
                    models.PositiveSmallIntegerField(default=2, help_text="copies of each stripe unit, when mirrored"),
                ),
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
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="array_findings", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="ArrayMember",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("place", models.PositiveSmallIntegerField(help_text="place in the order of the array, from 0")),
                ("slot", labcases.core.models.Line(blank=True, max_length=40, personal=False)),
                ("offset_sectors", models.PositiveBigIntegerField(default=0, help_text="where its data begins")),
                (
                    "stale",
                    models.BooleanField(default=False, help_text="dropped out earlier: its data is behind the others'"),
                ),
                ("usable", models.BooleanField(default=True, help_text="its copy is good enough to be used")),
                (
                    "finding",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="found", to="bench.arrayfinding"
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="member_findings",
                        to="cases.item",
                    ),
                ),
            ],
            options={
                "ordering": ["place"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("finding", "place"),
                        name="array_place_once",
                        violation_error_message="Two members cannot have the same place in the order.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FileList",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("number", models.PositiveIntegerField(help_text="counts from 1 for each item")),
                (
                    "source",
                    labcases.core.models.Line(
                        choices=[("table", "table"), ("station", "bench computer")],
                        default="table",
                        max_length=10,
                        personal=False,
                    ),
                ),
                (
                    "name",
                    labcases.core.models.Line(blank=True, help_text="name of the file", max_length=300, personal=True),
                ),
                (
                    "file",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the bytes as they came, in the vault, hex", max_length=64, personal=False
                    ),
                ),
                ("size", models.PositiveBigIntegerField(help_text="bytes of the file")),
                ("how", models.JSONField(default=dict, help_text="how its columns and words were read")),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("waiting", "waits to be read"),
                            ("reading", "is being read"),
                            ("kept", "kept"),
                            ("refused", "refused"),
                        ],
                        default="waiting",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("beat", models.DateTimeField(help_text="when whoever reads it was last heard of", null=True)),
                ("done", models.PositiveBigIntegerField(default=0, help_text="files read so far")),
                ("rows", models.PositiveBigIntegerField(default=0, help_text="files in it")),
                ("folders", models.PositiveBigIntegerField(default=0)),
                ("bytes", models.PositiveBigIntegerField(default=0, help_text="sum of the sizes that are known")),
                ("placed", models.PositiveBigIntegerField(default=0, help_text="files with extents")),
                (
                    "listed",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="SHA-256 of its files as columns (Parquet), in the vault, hex",
                        max_length=64,
                        personal=False,
                    ),
                ),
                (
                    "tree",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="SHA-256 of its folders (Parquet), in the vault, hex",
                        max_length=64,
                        personal=False,
                    ),
                ),
                ("notes", models.JSONField(default=list, help_text="what was put right by rule, in sentences")),
                (
                    "trouble",
                    labcases.core.models.Prose(
                        blank=True, help_text="why it was refused, in a sentence that may quote a cell", personal=True
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1)),
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="file_lists", to="cases.item"
                    ),
                ),
            ],
            options={
                "ordering": ["item_id", "number"],
                "indexes": [models.Index(fields=["state"], name="file_list_by_state")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("item", "number"),
                        name="file_list_number_once_per_item",
                        violation_error_message="A list of this number is there already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("state", "kept"),
                                models.Q(("listed", ""), _negated=True),
                                models.Q(("tree", ""), _negated=True),
                            ),
                            models.Q(models.Q(("state", "kept"), _negated=True), ("listed", ""), ("tree", "")),
                            _connector="OR",
                        ),
                        name="file_list_has_files_iff_kept",
                        violation_error_message="A list holds files when it was read and kept, and only then.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "refused"), _negated=True),
                            models.Q(("trouble", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="refused_file_list_says_why",
                        violation_error_message="Say why this list was refused.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="FileListWithdrawal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("because", labcases.core.models.Prose(personal=False)),
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
                    "list",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="withdrawal", to="bench.filelist"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("because", ""), _negated=True),
                        name="file_list_withdrawal_says_why",
                        violation_error_message="Say why this list is withdrawn.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FileSample",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("row", models.PositiveBigIntegerField(help_text="place of the file in the list")),
                (
                    "path",
                    labcases.core.models.Line(
                        help_text="as it was shown, the middle of a long one left out", max_length=300, personal=True
                    ),
                ),
                ("kind", labcases.core.models.Line(max_length=20, personal=False)),
                (
                    "outcome",
                    labcases.core.models.Line(
                        choices=[
                            ("opened", "opened, and is what its name says"),
                            ("structure", "cannot be opened here: structure checked"),
                            ("broken", "does not open, or is something else"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("words", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
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
                    "list",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="samples", to="bench.filelist"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="FileStates",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("made", models.DateTimeField(default=labcases.core.models.now)),
                ("version", models.PositiveIntegerField(help_text="the version of the list it was worked out from")),
                (
                    "coverage",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="SHA-256 of the coverage; empty when there was none",
                        max_length=64,
                        personal=False,
                    ),
                ),
                (
                    "states",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the states, a row a file (Parquet), in the vault, hex",
                        max_length=64,
                        personal=False,
                    ),
                ),
                (
                    "folders",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the counts, a row a folder (Parquet), in the vault, hex",
                        max_length=64,
                        personal=False,
                    ),
                ),
                ("by_kind", models.JSONField(default=dict, help_text="kind of file to counts")),
                ("by_wanted", models.JSONField(default=dict, help_text="key of a wanted line to counts")),
                (
                    "kinds_wanted",
                    models.JSONField(default=dict, help_text="key of a wanted line to the kinds among its files"),
                ),
                (
                    "from_list",
                    models.PositiveBigIntegerField(default=0, help_text="files whose state the list alone says"),
                ),
                (
                    "list",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="derived", to="bench.filelist"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="TakenFiles",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("folder", models.PositiveIntegerField(help_text="rank of the folder, or of the file's folder")),
                (
                    "row",
                    models.PositiveBigIntegerField(
                        help_text="place of the file in the list; none: the folder", null=True
                    ),
                ),
                ("size", models.BigIntegerField(default=-1, help_text="bytes of the file, -1 when not known")),
                ("taken", models.BooleanField(default=True)),
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
                    "list",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="taken", to="bench.filelist"
                    ),
                ),
            ],
            options={
                "ordering": ["folder", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("row", None)),
                        fields=("list", "folder"),
                        name="folder_taken_or_left_once",
                        violation_error_message="This folder is ticked already.",
                    ),
                    models.UniqueConstraint(
                        fields=("list", "row"),
                        name="file_taken_or_left_once",
                        violation_error_message="This file is ticked already.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="WantedFiles",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("folder", models.PositiveIntegerField(help_text="rank of the folder", null=True)),
                ("pattern", labcases.core.models.Line(blank=True, max_length=200, personal=True)),
                (
                    "name",
                    labcases.core.models.Line(
                        help_text="the folder, pattern or area in words", max_length=300, personal=True
                    ),
                ),
                ("dropped", models.DateTimeField(help_text="when it was taken out again", null=True)),
                (
                    "area",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="files",
                        to="bench.readingarea",
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
                    "list",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="ties", to="bench.filelist"
                    ),
                ),
                (
                    "wanted",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="files", to="cases.wanted"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("area", None), ("folder__isnull", False), ("pattern", "")),
                            models.Q(("area", None), ("folder", None), models.Q(("pattern", ""), _negated=True)),
                            models.Q(("area__isnull", False), ("folder", None), ("pattern", "")),
                            _connector="OR",
                        ),
                        name="wanted_files_by_one_thing",
                        violation_error_message="Name a folder, a pattern or an area: one of them.",
                    )
                ],
            },
        ),
        migrations.AddField(
            model_name="filelist",
            name="current",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.SET_NULL, related_name="+", to="bench.filestates"
            ),
        ),
    ]
