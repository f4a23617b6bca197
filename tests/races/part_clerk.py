"""One clerk in a process of its own, ``python -m tests.races.part_clerk``: reads its orders, says when ready, presses.

A new interpreter, not a fork: the tests' own process has threads (the browser's, the server's), and a fork of such a
process may wait for ever for a lock that one of them held.
"""

from __future__ import annotations

import json
import os
import random
import sys
from pathlib import Path
from typing import Any

import django
from django.conf import settings


def press(part: Any, item: Any, by: Any) -> tuple[str, str]:
    """What one press came to: won, told (with the sentence), or wrong (with the mistake)."""
    from django.db import IntegrityError

    from labcases.stock import actions
    from tests.builders import NOON

    try:
        actions.assign_donor(part=part, patient=item, by=by, happened=NOON)
    except actions.PartTaken as taken:
        return "told", taken.what
    except IntegrityError as mistake:
        return "wrong", str(mistake)
    return "won", str(part)


def believe_the_copy() -> None:
    """Take the claim out: look at the copy in hand, then take."""
    from labcases.stock.actions import parts
    from labcases.stock.models import DonorPart

    def look_then_take(part: DonorPart, patient: Any, *, lifting: bool = False) -> int:
        if part.state != DonorPart.State.FREE:
            return 0
        return DonorPart.objects.filter(pk=part.pk).update(state=DonorPart.State.ASSIGNED)

    parts._claim = look_then_take


def main() -> None:
    orders = json.loads(sys.stdin.readline())
    settings.DATABASES["default"] |= orders["database"]
    settings.KEY_DIR = Path(orders["keys"])
    django.setup()
    from labcases.cases.models import Item
    from labcases.lab.models import Actor, Staff
    from labcases.lab.roles import Role
    from labcases.stock.models import DonorPart

    if not orders["claims"]:
        believe_the_copy()
    by = Actor(Staff.objects.get(pk=orders["staff"]), Role.MANAGER)
    item = Item.objects.with_context().get(pk=orders["item"])
    copies = list(DonorPart.objects.with_context().filter(pk__in=orders["parts"]))
    random.Random(orders["item"]).shuffle(copies)
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.readline()
    sys.stdout.write(json.dumps([press(part, item, by) for part in copies]))


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcases.settings")
    main()
