"""The second factor of an account: codes from a phone, and recovery codes for when it is lost."""

from __future__ import annotations

import datetime as dt
import secrets

from django.core import signing
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people import throttle, totp
from facility.people.models import Person, RecoveryCode, SecondFactor
from facility.refusals import WrongState, WrongValue
from facility.sites.models import Site
from records.audit.door import door
from records.audit.signing import re_authenticate

RECOVERY_CODES = 8
# 24 letters and digits out of 30 are 117 random bits, more than the 112 from which a plain keyed
# hash is enough (ASVS 5.0, 6.5.2).
_ALPHABET = "23456789abcdefghjkmnpqrstvwxyz"
_GROUPS, _GROUP = 6, 4
_OFFER_LASTS_S = 3600


def key_of(seed: str) -> bytes:
    """The key that the phone holds: 20 bytes, as RFC 4226 section 4 recommends."""
    return salted_hmac("charline second factor", seed, algorithm="sha256").digest()[:20]


def offer(person: Person) -> str:
    """A new seed for this person, sealed, so that a form can carry it."""
    return signing.dumps([person.public_id, secrets.token_hex(20)], salt="second factor")


def seed_offered(person: Person, sealed: str) -> str:
    """The seed of an offer.

    Raises
    ------
    WrongValue
        when it was not offered to this person in the last hour.
    """
    try:
        whose, seed = signing.loads(sealed, salt="second factor", max_age=_OFFER_LASTS_S)
    except signing.BadSignature:
        whose, seed = "", ""
    if whose != person.public_id:
        raise WrongValue(_("This key is too old; open the page again."))
    return str(seed)


def switch_on(
    site: Site, person: Person, *, sealed: str, code: str, at: dt.datetime, once: str = ""
) -> list[str]:
    """Ask for a code at every sign-in from now on; gives the recovery codes, shown this once."""
    seed = seed_offered(person, sealed)
    with door("people.second_factor_on", by=person, site=site, on=person, at=at, once=once):
        if SecondFactor.objects.filter(person=person).exclude(seed="").exists():
            raise WrongState(_("Your second factor is switched on already."))
        step = totp.matching_step(key_of(seed), _plain(code), at.timestamp(), 0)
        if step is None:
            raise WrongValue(_wrong_code(), field="code")
        factor = SecondFactor.objects.filter(person=person).first() or SecondFactor(person=person)
        factor.seed, factor.last_step = seed, step
        factor.save()
        codes = [_new_code() for _number in range(RECOVERY_CODES)]
        RecoveryCode.objects.bulk_create(
            RecoveryCode(person=person, code_hash=_hash(person, each)) for each in codes
        )
    return codes


def switch_off(
    site: Site, person: Person, *, password: str, at: dt.datetime | None = None, once: str = ""
) -> None:
    act = "people.second_factor_off"
    re_authenticate(person, password, act=act, site=site, on=person, at=at)
    with door(act, by=person, site=site, on=person, at=at, once=once) as entry:
        if not switch_off_behind_door(person, entry.at):
            raise WrongState(_("Your second factor is not switched on."))


def switch_off_behind_door(person: Person, at: dt.datetime) -> bool:
    """Forget the seed and the recovery codes left; says whether there were any."""
    assert door_is_open()
    RecoveryCode.objects.filter(person=person, used_at__isnull=True).update(used_at=at)
    on = SecondFactor.objects.filter(person=person).exclude(seed="")
    return bool(on.update(seed=""))


def use_code(person: Person, code: str, at: dt.datetime) -> str:
    """Use up a code behind the open door of a sign-in; gives which kind it was.

    Raises
    ------
    WrongValue
        when it is no code of this person, or was used before.
    """
    assert door_is_open()
    code = _plain(code)
    factor = SecondFactor.objects.select_for_update().get(person=person)
    step = totp.matching_step(key_of(factor.seed), code, at.timestamp(), factor.last_step)
    if step is not None:
        factor.last_step = step
        factor.save()
        return "code"
    if _use_recovery_code(person, code, at):
        return "recovery code"
    raise WrongValue(_wrong_code(), field="code")


def _use_recovery_code(person: Person, code: str, at: dt.datetime) -> bool:
    wanted = _hash(person, code)
    left = RecoveryCode.objects.select_for_update().filter(person=person, used_at__isnull=True)
    for row in left:
        if constant_time_compare(row.code_hash, wanted):
            row.used_at = at
            row.save()
            return True
    return False


def watched_codes(person: Person) -> list[throttle.Watched]:
    return [throttle.watched("code", person.public_id)]


def _plain(code: str) -> str:
    return code.replace(" ", "").replace("-", "").lower()


def _new_code() -> str:
    groups = ("".join(secrets.choice(_ALPHABET) for _ in range(_GROUP)) for _ in range(_GROUPS))
    return "-".join(groups)


def _hash(person: Person, code: str) -> str:
    told = f"{person.public_id}:{_plain(code)}"
    return salted_hmac("charline recovery code", told, algorithm="sha256").hexdigest()


def _wrong_code() -> str:
    return _("This code does not fit, or was used before.")
