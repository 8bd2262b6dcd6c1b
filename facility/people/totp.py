"""Codes of the second factor: TOTP as RFC 6238 has it, with SHA-1, six digits and 30 seconds.

Pure. SHA-1 and six digits, for that is what every authenticator app can do; HMAC-SHA-1 is not
touched by the collisions of SHA-1 (RFC 6238 section 1.2 builds on RFC 4226).
"""

from __future__ import annotations

import base64
import hashlib
import hmac

STEP_S = 30
DIGITS = 6
# A code of the step before or after passes too: clocks of phones differ (RFC 6238 section 6).
DRIFT_STEPS = 1


def code_at(key: bytes, step: int, digits: int = DIGITS) -> str:
    """The code of a time step. Source: RFC 4226 section 5.3, with the step as the counter."""
    mac = hmac.new(key, step.to_bytes(8, "big"), hashlib.sha1).digest()
    offset = mac[-1] & 0x0F
    number = int.from_bytes(mac[offset : offset + 4], "big") & 0x7FFF_FFFF
    return f"{number % 10**digits:0{digits}d}"


def step_at(seconds: float) -> int:
    """The time step of a moment, in seconds since 1970. Source: RFC 6238 section 4.2."""
    return int(seconds // STEP_S)


def matching_step(key: bytes, code: str, seconds: float, after: int) -> int | None:
    """The step whose code this is, near the moment and later than ``after``; None when none is."""
    now = step_at(seconds)
    for step in range(now - DRIFT_STEPS, now + DRIFT_STEPS + 1):
        if step > after and hmac.compare_digest(code_at(key, step).encode(), code.encode()):
            return step
    return None


def as_text(key: bytes) -> str:
    """The key as apps take it: base32 without padding."""
    return base64.b32encode(key).decode().rstrip("=")
