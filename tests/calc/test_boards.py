"""Boards against published values; each expected number names where it was printed."""

import pytest

from facility.calc.boards import board_mass, moisture_content, net_calorific_value


@pytest.mark.parametrize(
    ("wet_g", "dry_g", "dry_basis", "wet_basis"),
    [(1150, 1000, 15.0, 13.0), (1200, 1000, 20.0, 16.7), (2000, 1000, 100.0, 50.0)],
)
def test_moisture_content_as_printed(wet_g, dry_g, dry_basis, wet_basis):
    """Definition of EN 322 and ASTM D4442; values from a fact sheet on the Wood Handbook
    (FPL-GTR-282 chapter 4), printed to 0.1."""
    working = moisture_content.of(wet_mass=wet_g / 1000, dry_mass=dry_g / 1000)
    assert working.value("moisture") == pytest.approx(dry_basis, abs=0.05)
    assert working.value("moisture_wet_basis") == pytest.approx(wet_basis, abs=0.05)


@pytest.mark.parametrize(
    ("moisture", "literal"), [(0, 17.5), (8, 15.9), (12, 15.1), (15, 14.5), (20, 13.5)]
)
def test_calorific_value_on_wet_basis_is_the_standards_own_formula(moisture, literal):
    """EN 1991-1-2:2002 E.2.4 (from memory), arithmetic of Hu0 (1 - 0.01 u) - 0.025 u."""
    working = net_calorific_value.of(dry_value=17.5, moisture=moisture, moisture_basis="wet")
    assert working.value() == pytest.approx(literal, abs=1e-9)


@pytest.mark.parametrize(("moisture", "balance"), [(8, 16.019), (12, 15.357), (20, 14.167)])
def test_calorific_value_on_dry_basis_is_the_mass_balance(moisture, balance):
    """(Hu0 - 0.025 u)/(1 + 0.01 u): arithmetic on EN 1991-1-2 values, no printed example found."""
    working = net_calorific_value.of(dry_value=17.5, moisture=moisture)
    assert working.value() == pytest.approx(balance, abs=1e-3)


@pytest.mark.parametrize(
    ("at_15_percent", "at_30_percent"), [(4.49, 3.58), (4.32, 3.44), (4.10, 3.25)]
)
def test_calorific_value_between_two_printed_moistures(at_15_percent, at_30_percent):
    """Heating-value table in kWh/kg of the ETA wood-boiler manual (spruce, pine, oak), with its
    own evaporation heat of 0.68 kWh/kg, 2 % off the 2.5 MJ/kg (0.694 kWh/kg) used here."""
    dry = (at_15_percent * 3.6 + 2.5 * 0.15) / 0.85
    working = net_calorific_value.of(dry_value=dry, moisture=30, moisture_basis="wet")
    assert working.value() / 3.6 == pytest.approx(at_30_percent, abs=0.012)


@pytest.mark.parametrize(
    ("thickness_mm", "density", "mass_kg"),
    [(15.9, 585, 27.7), (15.9, 500, 23.7), (18.9, 583, 32.8), (15.9, 230, 10.9)],
)
def test_mass_of_a_sheet_from_its_size_and_density(thickness_mm, density, mass_kg):
    """Density and thickness of OSB, plywood, particle board and low-density fibreboard from the
    FSRI Materials and Products Database; 1.22 m x 2.44 m sheet, arithmetic to 0.1 kg."""
    working = board_mass.of(
        length=2.44, width=1.22, thickness=thickness_mm, density=density, moisture=0
    )
    assert working.value() == pytest.approx(mass_kg, abs=0.05)


def test_a_sheet_weighed_moist_holds_less_dry_wood():
    """A 30 kg sheet at 20 % holds 25 kg of dry wood: definition of EN 322."""
    working = board_mass.of(length=2, width=1, thickness=25, density=600, moisture=20)
    assert working.value("wet_mass") == pytest.approx(30.0)
    assert working.value("dry_mass") == pytest.approx(25.0)
