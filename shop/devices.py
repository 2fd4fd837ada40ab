"""Enrolled devices: what the owner does with them."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac

from shop.access import token_hash
from shop.models import Device, Station


class DeviceRefused(Exception):  # noqa: N818 - the shop refuses, nothing has failed
    """Why a device is not enrolled; the text is a sentence for the person."""


def enroll(
    name: str,
    station: Station,
    *,
    sender_id: UUID,
    replaces: Device | None = None,
    at: datetime | None = None,
) -> tuple[Device, str]:
    """Enroll a device and return it with its token, which is kept nowhere else. `replaces` is revoked.

    The token follows from the form's id and the secret key, so the same form sent twice enrolls one device.
    Raises DeviceRefused.
    """
    token = salted_hmac("shop.devices.enroll", str(sender_id), algorithm="sha256").hexdigest()
    at = at or timezone.now()
    with transaction.atomic():
        # The same form twice at once: the second waits here for the first.
        Station.objects.select_for_update().get(pk=station.pk)
        first = Device.objects.filter(token_hash=token_hash(token)).first()
        if first is not None:
            if first.revoked_at or (first.name, first.station_id) != (name, station.pk):
                raise DeviceRefused("This form was sent before. Load the page again and fill it in anew.")
            return first, token
        if replaces is not None:
            revoke(replaces, at=at)
        if Device.objects.filter(name__iexact=name, revoked_at__isnull=True).exists():
            raise DeviceRefused(f"There is already a device called “{name}”. Give this one another name.")
        device = Device.objects.create(
            name=name, token_hash=token_hash(token), station=station, enrolled_at=at
        )
    return device, token


def revoke(device: Device, *, at: datetime | None = None) -> bool:
    """Shut a device out, and with it whoever came in there by PIN or badge. False when it already was."""
    changed = Device.objects.filter(pk=device.pk, revoked_at__isnull=True).update(
        revoked_at=at or timezone.now()
    )
    return changed == 1
