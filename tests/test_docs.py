"""What can be listed from the code is described in DEVELOPERS.md."""

from pathlib import Path

import pytest

from facility.calc.register import REGISTER as CALCULATIONS
from facility.people.permissions import ACTS
from facility.rules.facts import REGISTER as FACTS

TEXT = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text()


@pytest.mark.parametrize("name", [*ACTS, *FACTS, *CALCULATIONS])
def test_every_act_fact_and_calculation_is_described(name):
    assert f"`{name}`" in TEXT


def test_the_readme_opens_with_the_job_in_one_paragraph():
    readme = (Path(__file__).parents[1] / "README.md").read_text()
    opening = readme.split("\n\n")[1]
    assert "live-fire training ground" in opening
    assert "\n" not in opening
