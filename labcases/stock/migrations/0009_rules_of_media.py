from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("stock", "0008_what_media_held")]

    operations = [
        migrations.AddConstraint(
            model_name="destination",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("held_for", None), ("state__in", ["new and sealed", "wiped and verified"]), ("written", False)
                    ),
                    models.Q(("held_for__isnull", False), ("state__in", ["assigned", "handed out"])),
                    models.Q(
                        ("held_for__isnull", False), ("state__in", ["holds customer data", "kept"]), ("written", True)
                    ),
                    ("state__in", ["retired", "being wiped", "wiped, not verified"]),
                    _connector="OR",
                ),
                name="destination_held_for_a_case_iff_in_its_service",
                violation_error_message="A medium that serves a case names it; a clean one names none.",
            ),
        ),
        migrations.AddConstraint(
            model_name="destination",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("owned_by", None),
                    models.Q(
                        ("state__in", ["being wiped", "wiped, not verified", "wiped and verified"]), _negated=True
                    ),
                    _connector="OR",
                ),
                name="destination_of_a_customer_is_never_wiped",
                violation_error_message="A customer's own medium is never wiped here.",
            ),
        ),
        migrations.AddConstraint(
            model_name="destination",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("healthy", False), ("state__in", ["new and sealed", "wiped and verified"]), _negated=True
                ),
                name="destination_that_failed_is_not_free",
                violation_error_message="What failed its health check is retired, and serves nobody.",
            ),
        ),
        migrations.AddConstraint(
            model_name="destination",
            constraint=models.CheckConstraint(
                condition=models.Q(("held_for__isnull", False), ("written", False), _connector="OR"),
                name="destination_with_data_names_whose",
                violation_error_message="A medium with data on it names the case.",
            ),
        ),
        migrations.AddConstraint(
            model_name="wipe",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state__in", ["running", "ended"])),
                fields=("destination",),
                name="one_wipe_of_a_medium_at_a_time",
                violation_error_message="A wipe of this medium is going on already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="wipe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ended", None), ("state", "running")),
                    models.Q(models.Q(("state", "running"), _negated=True), ("ended__isnull", False)),
                    _connector="OR",
                ),
                name="wipe_that_runs_has_no_end",
                violation_error_message="A wipe runs, or has its end.",
            ),
        ),
        migrations.AddConstraint(
            model_name="wipe",
            constraint=models.CheckConstraint(
                condition=models.Q(("ended", None), ("ended__gte", models.F("happened")), _connector="OR"),
                name="wipe_ends_after_it_began",
                violation_error_message="A wipe ends after it began.",
            ),
        ),
        migrations.AddConstraint(
            model_name="wipe",
            constraint=models.CheckConstraint(
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
        ),
        migrations.AddConstraint(
            model_name="wipe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state__in", ["verified", "not passed"]), ("verified_at__isnull", False)),
                    models.Q(models.Q(("state__in", ["verified", "not passed"]), _negated=True), ("verified_at", None)),
                    _connector="OR",
                ),
                name="only_a_verified_wipe_counts",
                violation_error_message="A wipe that failed, was stopped or still runs is not verified.",
            ),
        ),
        migrations.AddConstraint(
            model_name="wipe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("share", None), models.Q(("share__range", (1, 99)), ("verified", "sampled")), _connector="OR"
                ),
                name="wipe_share_is_of_samples",
                violation_error_message="Samples cover 1 to 99 per cent; all of it is every sector.",
            ),
        ),
    ]
