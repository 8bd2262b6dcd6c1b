"""Codes of the second factor, against the published test values."""

from __future__ import annotations

import base64

import pytest

from facility.people.totp import as_text, code_at, matching_step, step_at

KEY = b"12345678901234567890"  # RFC 6238 appendix B and RFC 4226 appendix D, the key for SHA-1

APPENDIX_B = [  # RFC 6238 appendix B, the rows of SHA-1: seconds, step in hex, code of 8 digits
    (59, "0000000000000001", "94287082"),
    (1111111109, "00000000023523EC", "07081804"),
    (1111111111, "00000000023523ED", "14050471"),
    (1234567890, "000000000273EF07", "89005924"),
    (2000000000, "0000000003F940AA", "69279037"),
    (20000000000, "0000000027BC86AA", "65353130"),
]
APPENDIX_D = [  # RFC 4226 appendix D: the codes of counts 0 to 9
    "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871",
    "520489",
]  # fmt: skip


@pytest.mark.parametrize(("seconds", "step", "code"), APPENDIX_B)
def test_the_test_values_of_rfc_6238(seconds, step, code):
    assert step_at(seconds) == int(step, 16)
    assert code_at(KEY, step_at(seconds), digits=8) == code


@pytest.mark.parametrize(("count", "code"), list(enumerate(APPENDIX_D)))
def test_the_test_values_of_rfc_4226(count, code):
    assert code_at(KEY, count) == code


@pytest.mark.parametrize(
    ("off", "passes"), [(-2, False), (-1, True), (0, True), (1, True), (2, False)]
)
def test_a_phone_half_a_minute_off_is_forgiven_and_no_more(off, passes):
    now = 1234567890
    found = matching_step(KEY, code_at(KEY, step_at(now) + off), now, after=0)
    assert found == (step_at(now) + off if passes else None)


def test_a_code_works_once_and_none_before_it_works_again():
    now = 1234567890
    step = step_at(now)
    assert matching_step(KEY, code_at(KEY, step), now, after=step) is None
    assert matching_step(KEY, code_at(KEY, step - 1), now, after=step) is None
    assert matching_step(KEY, code_at(KEY, step + 1), now, after=step) == step + 1


@pytest.mark.parametrize("code", ["", "1", "abcdef", "12345", "1234567", "é", "００５９２４"])
def test_what_is_no_code_never_passes(code):
    assert matching_step(KEY, code, 1234567890, after=0) is None


def test_the_key_as_text_is_base32():
    assert base64.b32decode(as_text(KEY)) == KEY
