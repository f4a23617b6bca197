"""The verbs of setting up."""

from __future__ import annotations

from pathlib import Path

from django.db import transaction

from labcases.core.refused import Refused
from labcases.lab.models import Profile, Staff
from labcases.lab.roles import Role
from labcases.ops import first_manager

FIRST_ROLES = (Role.COUNTER, Role.ENGINEER, Role.MANAGER)


class NoSetUp(Refused):
    """The one-time address is wrong, or was used."""

    status = 404

    def __init__(self) -> None:
        super().__init__(
            "This set-up address does not hold.",
            why="It works once, until the first manager is made.",
            mend="Log in if you have a log-in. Otherwise restart the server and open the address it prints.",
        )


def make_first_manager(*, key_dir: Path, token: str, lab: str, login: str, name: str, password: str) -> Staff:
    """Name the lab and make the first person who can log in. Raises NoSetUp for a wrong or spent token."""
    if not first_manager.is_right(key_dir, token):
        raise NoSetUp
    with first_manager.spending(key_dir) as won, transaction.atomic():
        if not won or Staff.objects.exists():
            raise NoSetUp
        Profile.objects.update_or_create(pk=1, defaults={"name": lab})
        return Staff.objects.create_user(login=login, name=name, password=password, roles=FIRST_ROLES)
