"""Every real logger file beside the repository goes in through the page, and its page opens."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from records.capture.models import LoggerFile
from tests import builders
from tests.calc.measured import DATA

FOLDERS = ("nist_training_structures", "fsri_compartments_2018", "nbs_single_room",
           "lined_room_fullscale", "logger_layouts")  # fmt: skip
# Beside the recordings lie lists that are none: of events with a clock each, of channels, and what
# was derived by hand.
NO_RECORDING = ("_Events.csv", "channel_list.csv", "derived_by_us.csv")
FILES = [
    path
    for folder in FOLDERS
    for path in sorted((DATA / folder).glob("*.csv"))
    if not path.name.endswith(NO_RECORDING)
]
pytestmark = pytest.mark.skipif(not FILES, reason="measured data is not beside the repository")


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_goes_in_through_the_page(ground, path):
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    client = Client()
    client.force_login(ground.instructor)
    address = reverse("capture:take", args=[burn.public_id])

    def sent(**more):
        upload = SimpleUploadedFile(path.name, path.read_bytes())
        return client.post(
            address, {"logger": "logger 1", "file": upload, "ignition_s": "0", **more}
        )

    shown = sent(other_day="on")
    assert shown.status_code == 200
    assert "What was understood" in shown.text
    assert not LoggerFile.objects.exists()
    kept = sent(keep="1", other_day="on")
    text = b"".join(kept.streaming_content).decode() if kept.streaming else kept.text
    assert kept.status_code == 302 or "Kept with this burn" in text
    assert LoggerFile.objects.get().sha256
    page = client.get(reverse("capture:recorded", args=[burn.public_id]))
    assert page.status_code == 200
    assert "data:image/svg+xml" in page.text


def test_a_list_that_is_no_recording_is_refused(ground):
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    client = Client()
    client.force_login(ground.instructor)
    path = DATA / "fsri_compartments_2018" / "channel_list.csv"
    upload = SimpleUploadedFile(path.name, path.read_bytes())
    answer = client.post(
        reverse("capture:take", args=[burn.public_id]),
        {"logger": "logger 1", "file": upload, "keep": "1"},
    )
    assert 400 <= answer.status_code < 500
    assert not LoggerFile.objects.exists()
