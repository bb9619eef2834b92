"""The town this house is for: made once, and its telephone numbers kept right."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.people.models import Person
from survey.people.policy import may_keep_accounts
from survey.trees.models import Area

LINES = ("emergency_number", "utility_line", "hazard_line", "hazard_hours", "hazard_fallback",
         "call_line")  # fmt: skip


@transaction.atomic
def set_home(
    *,
    by: Person,
    at: datetime,
    name: str,
    latitude: float,
    longitude: float,
    radius_m: float,
    time_zone: str,
    association: str = "",
    department: str = "",
    **lines: str,
) -> Area:
    """Say which town this house is for, or correct what is known of it.

    The hemisphere follows from the latitude. `lines` are telephone numbers named as in LINES.
    Raises ValidationError keyed by field, PermissionDenied unless `by` keeps the accounts.
    """
    if not may_keep_accounts(by):
        raise PermissionDenied
    area = Area.objects.select_for_update().filter(is_home=True).first()
    made = area is None
    area = area or Area(is_home=True, ref=slugify(name)[:40] or "home")
    area.name, area.latitude, area.longitude = name.strip(), latitude, longitude
    area.radius_m, area.time_zone = radius_m, time_zone
    area.association, area.department = association.strip(), department.strip()
    area.hemisphere = Area.Hemisphere.SOUTH if latitude < 0 else Area.Hemisphere.NORTH
    for line, number in lines.items():
        if line not in LINES:
            raise ValueError(f"no such line: {line}")
        setattr(area, line, number.strip())
    try:
        ZoneInfo(time_zone)
    except (KeyError, ValueError, OSError) as unknown:
        said = _("There is no time zone of that name. One is “America/Chicago”.")
        raise ValidationError({"time_zone": said}) from unknown
    area.full_clean()
    area.save()
    act = "area.made" if made else "area.changed"
    record(act, subject=f"area:{area.ref}", by=by, at=at, name=area.name)
    return area
