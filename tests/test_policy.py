"""What every page promises the browser, and that production settings pass Django's own check."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client

from facility.people.permissions import ADDRESSES
from tests.pages import Things
from tests.test_addresses import CAST

ROOT = Path(__file__).parents[1]
POLICY = {
    "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data:",
    "font-src 'self'", "connect-src 'self'", "form-action 'self'", "frame-ancestors 'none'",
    "base-uri 'none'", "manifest-src 'self'",
}  # fmt: skip
FORBIDDEN = re.compile(
    r"<style|\sstyle\s*=|<script(?![^>]*\ssrc=)|\son[a-z]+\s*=\s*[\"']|javascript:", re.I
)


@pytest.fixture
def things(db) -> Things:
    return Things()


def policy_of(response) -> set[str]:
    given = response.headers.get("Content-Security-Policy", "")
    return {part.strip() for part in given.split(";") if part.strip()}


def reader(things: Things, name: str) -> Client:
    client = Client()
    roles = sorted(set(CAST) & (ADDRESSES[name].get or set()))
    if not ADDRESSES[name].public:
        client.force_login(things.ground.cast[CAST[roles[0]]])
    return client


def test_every_page_carries_the_strict_policy_and_nothing_inline(things, subtests):
    pages = [name for name, each in ADDRESSES.items() if each.get and not name.endswith("_pdf")]
    pages.remove("pictures:picture")  # see tests/photographs
    for name in pages:
        with subtests.test(name):
            response = reader(things, name).get(things.address(name))
            assert policy_of(response) == POLICY
            assert response["X-Frame-Options"] == "DENY"
            assert response["X-Content-Type-Options"] == "nosniff"
            if not response.streaming:  # as files are
                assert FORBIDDEN.findall(response.text) == []


@pytest.mark.parametrize("address", ["/no-such-page/", "/store/", "/sign-in/", "/sign-in/code/"])
def test_a_strangers_answers_carry_it_too(db, address):
    assert policy_of(Client().get(address)) == POLICY


def manage(*command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {key: value for key, value in os.environ.items() if key in ("PATH", "HOME", "LANG")}
    return subprocess.run(
        [sys.executable, "manage.py", *command], cwd=ROOT, env=kept | environment, text=True,
        capture_output=True, check=False,
    )  # fmt: skip


PRODUCTION = {
    "CHARLINE_HOSTS": "burns.example.org", "CHARLINE_SECRET_KEY": "k3y-" * 20 + "Zq!7_x",
    "CHARLINE_MAIL_HOST": "mail.example.org:25",
}  # fmt: skip


def test_the_deployment_check_is_clean_with_production_settings(tmp_path):
    given = PRODUCTION | {"CHARLINE_DATA": str(tmp_path)}
    found = manage("check", "--deploy", "--fail-level", "WARNING", **given)
    assert (found.returncode, found.stderr.strip()) == (0, "")


def test_the_check_would_tell_otherwise(tmp_path):
    """The control: the settings of the demo, plain http, are found wanting."""
    given = PRODUCTION | {"CHARLINE_DATA": str(tmp_path), "CHARLINE_DEMO": "1"}
    found = manage("check", "--deploy", "--fail-level", "WARNING", **given)
    assert found.returncode == 1
    assert "security.W012" in found.stderr


def test_in_production_cookies_are_bound_to_the_host_and_need_https(tmp_path):
    code = (
        "from django.conf import settings as s; print(s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME,"
        "s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE, s.SECURE_SSL_REDIRECT, s.DEBUG,"
        "s.SESSION_COOKIE_SAMESITE, s.SESSION_COOKIE_HTTPONLY, s.PROXIES)"
    )
    found = manage("shell", "--no-imports", "-c", code, **PRODUCTION, CHARLINE_DATA=str(tmp_path))
    wanted = "__Host-session __Host-csrf True True True False Strict True 1"
    assert found.stdout.split() == wanted.split()


@pytest.mark.parametrize("given", ["manager,saftey", "manager;safety"])
def test_a_role_misspelt_in_the_settings_does_not_pass_in_silence(tmp_path, given):
    found = manage("check", **PRODUCTION, CHARLINE_DATA=str(tmp_path), CHARLINE_SECOND_FACTOR=given)
    assert found.returncode != 0
    assert "CHARLINE_SECOND_FACTOR" in found.stderr
