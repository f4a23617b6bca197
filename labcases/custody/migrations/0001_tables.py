import django.db.models.deletion
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [
        ("custody", "0001_first"),
        ("custody", "0002_signed_head"),
        ("custody", "0003_photos"),
        ("custody", "0004_ledger_check"),
        ("custody", "0005_lines_of_custody"),
        ("custody", "0006_came_with_a_batch"),
    ]

    initial = True

    dependencies = [
        ("core", "0001_tables"),
        ("lab", "0001_tables"),
        ("lab", "__first__"),
        ("people", "0001_tables"),
    ]

    operations = [
        migrations.CreateModel(
            name="KeptHead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("size", models.PositiveBigIntegerField(unique=True)),
                ("root", labcases.core.models.Line(max_length=64, personal=False)),
                ("signed", labcases.core.models.Line(max_length=40, personal=False)),
                ("signature", labcases.core.models.Line(max_length=128, personal=False)),
                ("key", labcases.core.models.Line(max_length=64, personal=False)),
                ("because", labcases.core.models.Line(max_length=100, personal=False)),
            ],
            options={
                "ordering": ["-size"],
            },
        ),
        migrations.CreateModel(
            name="LedgerCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("started", models.DateTimeField()),
                ("ended", models.DateTimeField()),
                ("size", models.PositiveBigIntegerField(help_text="events walked through")),
                ("holds", models.BooleanField()),
                (
                    "findings",
                    models.JSONField(default=list, help_text="detector, sequence and sentence of each, the first ones"),
                ),
            ],
            options={
                "ordering": ["-ended", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="LineCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("started", models.DateTimeField()),
                ("ended", models.DateTimeField()),
                ("things", models.PositiveIntegerField()),
                (
                    "put_right",
                    models.PositiveIntegerField(help_text="things whose breaks were not kept as their events say"),
                ),
                ("beside", models.PositiveIntegerField(help_text="things that were changed past the ledger")),
            ],
            options={
                "ordering": ["-ended", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="Series",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", labcases.core.models.Line(max_length=20, personal=False, unique=True)),
                ("last", models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="Witness",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("address", labcases.core.models.Line(max_length=254, personal=True, unique=True)),
                ("since", models.DateTimeField(default=labcases.core.models.now)),
            ],
            options={
                "verbose_name_plural": "witnesses",
                "ordering": ["address"],
            },
        ),
        migrations.CreateModel(
            name="CustodyRules",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "both_confirm",
                    models.BooleanField(default=False, help_text="a hand-over between people asks for both"),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("pk", 1)),
                        name="one_row_of_custody_rules",
                        violation_error_message="A lab has one set of rules for custody.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Event",
            fields=[
                ("sequence", models.PositiveBigIntegerField(primary_key=True, serialize=False)),
                ("body", models.BinaryField()),
                (
                    "digest",
                    labcases.core.models.Line(
                        help_text="leaf hash of the body, hex", max_length=64, personal=False, unique=True
                    ),
                ),
                ("kind", labcases.core.models.Line(max_length=40, personal=False)),
                ("thing_code", labcases.core.models.Line(blank=True, max_length=30, personal=False)),
                ("case_code", labcases.core.models.Line(blank=True, max_length=30, personal=False)),
                ("actor_ref", labcases.core.models.Line(blank=True, max_length=36, personal=False)),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField()),
                ("corrects", models.PositiveBigIntegerField(null=True)),
            ],
            options={
                "ordering": ["sequence"],
                "indexes": [
                    models.Index(fields=["case_code", "-sequence"], name="event_of_case"),
                    models.Index(fields=["thing_code", "-sequence"], name="event_of_thing"),
                    models.Index(
                        condition=models.Q(("corrects__isnull", False)), fields=["corrects"], name="event_that_corrects"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="EventText",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sequence", models.PositiveBigIntegerField()),
                ("field", labcases.core.models.Line(max_length=20, personal=False)),
                ("salt", models.BinaryField(max_length=32)),
                ("text", labcases.core.models.Prose(personal=True)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("sequence", "field"),
                        name="one_text_per_event_and_field",
                        violation_error_message="An event has one text of each kind.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Head",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sequence", models.PositiveBigIntegerField(default=0)),
                (
                    "digest",
                    labcases.core.models.Line(
                        blank=True, help_text="leaf hash of the last event, hex", max_length=64, personal=False
                    ),
                ),
                (
                    "peaks",
                    models.JSONField(
                        default=list, help_text="hashes of the largest complete subtrees, left to right, hex"
                    ),
                ),
                (
                    "root",
                    labcases.core.models.Line(
                        blank=True, help_text="root over all events, RFC 9162, hex", max_length=64, personal=False
                    ),
                ),
                (
                    "signed",
                    labcases.core.models.Line(
                        blank=True, help_text="when it was signed, RFC 3339", max_length=40, personal=False
                    ),
                ),
                (
                    "signature",
                    labcases.core.models.Line(blank=True, help_text="Ed25519, hex", max_length=128, personal=False),
                ),
                (
                    "key",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="public key this ledger was begun with, hex",
                        max_length=64,
                        personal=False,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("pk", 1)),
                        name="one_ledger_head",
                        violation_error_message="The ledger has one head.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="StaffPin",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("digest", labcases.core.models.Line(max_length=128, personal=True)),
                ("since", models.DateTimeField(default=labcases.core.models.now)),
                (
                    "staff",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="pin", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Thing",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "code",
                    labcases.core.models.Line(
                        help_text="folded, with its check character", max_length=30, personal=False, unique=True
                    ),
                ),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("docket", "docket"),
                            ("patient", "patient"),
                            ("accessory", "accessory"),
                            ("chip", "chip"),
                            ("donor", "donor"),
                            ("part", "donor part"),
                            ("destination", "destination"),
                            ("delivery", "delivery medium"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "words",
                    labcases.core.models.Line(help_text="what it is, in a few words", max_length=300, personal=False),
                ),
                ("serial_folded", labcases.core.models.Line(blank=True, db_index=True, max_length=100, personal=False)),
                ("last_event", models.PositiveBigIntegerField(default=0, help_text="sequence of its last event")),
                ("last_moved", models.DateTimeField(null=True)),
                ("gone", models.BooleanField(default=False, help_text="destroyed: it is nowhere any more")),
                (
                    "line",
                    models.JSONField(default=dict, help_text="how its line stands: what its next event is judged by"),
                ),
                (
                    "breaks_open",
                    models.PositiveSmallIntegerField(
                        default=0, help_text="breaks in its line that nobody has answered"
                    ),
                ),
                (
                    "worst_break",
                    labcases.core.models.Line(
                        blank=True, help_text="the gravest grade of those", max_length=20, personal=False
                    ),
                ),
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
                    "party",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="things_held",
                        to="people.party",
                    ),
                ),
                (
                    "place",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="things",
                        to="lab.place",
                    ),
                ),
                (
                    "staff",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="things_held",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("breaks_open__gt", 0)), fields=["worst_break"], name="thing_with_breaks"
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("staff", None), ("party", None), _connector="OR"),
                        name="thing_has_one_holder",
                        violation_error_message="A thing is with one holder at a time.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("gone", False),
                            models.Q(("party", None), ("place", None), ("staff", None)),
                            _connector="OR",
                        ),
                        name="thing_destroyed_is_nowhere",
                        violation_error_message="What was destroyed is nowhere any more.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Photo",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "draft",
                    models.UUIDField(help_text="the intake it was taken for, before there is a thing", null=True),
                ),
                (
                    "original",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the file as it arrived, hex", max_length=64, personal=True
                    ),
                ),
                (
                    "shown",
                    labcases.core.models.Line(
                        help_text="digest of the copy that is shown", max_length=64, personal=True
                    ),
                ),
                (
                    "thumb",
                    labcases.core.models.Line(help_text="digest of the small copy", max_length=64, personal=True),
                ),
                ("kind", labcases.core.models.Line(max_length=10, personal=False)),
                ("width", models.PositiveIntegerField(help_text="pixels of the original, upright")),
                ("height", models.PositiveIntegerField()),
                ("size", models.PositiveIntegerField(help_text="bytes of the original")),
                (
                    "camera_time",
                    labcases.core.models.Line(
                        blank=True, help_text="by the camera's own clock, no zone", max_length=19, personal=False
                    ),
                ),
                (
                    "words",
                    labcases.core.models.Line(blank=True, help_text="what it shows", max_length=200, personal=True),
                ),
                ("batch", models.UUIDField(help_text="taken in one go: one event of the ledger")),
                ("event", models.PositiveBigIntegerField(help_text="the event that records it", null=True)),
                ("withdrawn", models.DateTimeField(null=True)),
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
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photos",
                        to="custody.thing",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "indexes": [
                    models.Index(condition=models.Q(("event", None)), fields=["batch"], name="photo_not_recorded_yet")
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("draft__isnull", False), ("thing", None)),
                            models.Q(("draft", None), ("thing__isnull", False)),
                            _connector="OR",
                        ),
                        name="photo_of_thing_or_draft",
                        violation_error_message="A photo shows a thing, or waits with a draft.",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn", None)),
                        fields=("thing", "original"),
                        name="photo_once_per_thing",
                        violation_error_message="This photo is with this thing already.",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn", None)),
                        fields=("draft", "original"),
                        name="photo_once_per_draft",
                        violation_error_message="This photo is with this intake already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("height__gte", 1), ("size__gte", 1), ("width__gte", 1)),
                        name="photo_has_pixels",
                        violation_error_message="A photo has pixels.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("event", None), ("thing__isnull", False), _connector="OR"),
                        name="photo_of_a_draft_is_not_in_the_ledger",
                        violation_error_message="A photo is recorded with the thing that it shows.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Break",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("event", models.PositiveBigIntegerField(help_text="sequence of the event at which it shows")),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("gap", "gap"),
                            ("never in", "never in"),
                            ("elsewhere", "elsewhere"),
                            ("after its end", "after its end"),
                            ("beside the ledger", "beside the ledger"),
                            ("powered twice", "powered twice"),
                            ("seal too late", "seal too late"),
                            ("seal unknown", "seal unknown"),
                            ("times", "times"),
                            ("power unknown", "power unknown"),
                            ("seal again", "seal again"),
                            ("power left on", "power left on"),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "grade",
                    labcases.core.models.Line(
                        choices=[("grave", "grave"), ("to explain", "to explain"), ("note", "note")],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "detail",
                    labcases.core.models.Line(blank=True, help_text="number of a seal", max_length=100, personal=False),
                ),
                ("happened", models.DateTimeField(help_text="when that event is said to have happened")),
                (
                    "answered",
                    models.PositiveBigIntegerField(help_text="sequence of the correction that answers it", null=True),
                ),
                (
                    "thing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="breaks", to="custody.thing"
                    ),
                ),
            ],
            options={
                "ordering": ["-event", "-pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("answered", None)), fields=["grade", "-event"], name="break_not_answered"
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("thing", "event", "kind", "detail"),
                        name="one_break_of_a_kind_per_event",
                        violation_error_message="This break is known already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("answered", None), ("answered__gt", models.F("event")), _connector="OR"),
                        name="break_is_answered_later",
                        violation_error_message="A break is answered by a later event.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AskedHandover",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("because", labcases.core.models.Prose(blank=True, personal=True)),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("asked", "waits for an answer"),
                            ("taken", "taken"),
                            ("refused", "refused"),
                            ("withdrawn", "withdrawn"),
                        ],
                        default="asked",
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("answered", models.DateTimeField(null=True)),
                ("said", labcases.core.models.Prose(blank=True, help_text="why it was refused", personal=True)),
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
                    "to",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="handovers_asked",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("things", models.ManyToManyField(related_name="asked_handovers", to="custody.thing")),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [
                    models.Index(condition=models.Q(("state", "asked")), fields=["to"], name="handover_waits_for")
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answered", None), ("state", "asked")),
                            models.Q(models.Q(("state", "asked"), _negated=True), ("answered__isnull", False)),
                            _connector="OR",
                        ),
                        name="asked_handover_says_when_answered",
                        violation_error_message="A hand-over that was answered says when.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TreeNode",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("level", models.PositiveSmallIntegerField()),
                ("index", models.PositiveBigIntegerField()),
                ("digest", labcases.core.models.Line(max_length=64, personal=False)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("level", "index"),
                        name="one_tree_node",
                        violation_error_message="A subtree has one hash.",
                    )
                ],
            },
        ),
    ]
