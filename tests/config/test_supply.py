"""What the program is made of: every license fits, and the bill of materials is whole and as the standard asks."""

import json

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

from tests.supply import LOCK, SCRIPTS, bill, fits, licenses, names


def test_every_license_of_what_is_installed_fits() -> None:
    found = licenses()
    assert len(found) > 0.9 * len(names())
    assert {name: told for name, told in found.items() if not fits(told)} == {}


@pytest.mark.parametrize(
    ("told", "fitting"),
    [
        # SPDX License List 3.27 and its expressions (annex D): AND holds together, OR is a choice.
        ("MIT", True),
        ("BSD-2-Clause AND Apache-2.0 WITH LLVM-exception", True),
        ("GPL-2.0-or-later OR MPL-1.1", True),
        ("LGPL-3.0-only", True),
        ("AGPL-3.0-only", False),
        ("GPL-3.0-only", False),
        ("MIT AND GPL-3.0-only", False),
        ("SSPL-1.0", False),
        ("", False),
        ("Proprietary", False),
    ],
)
def test_which_licenses_fit(told: str, fitting: bool) -> None:
    assert fits(told) is fitting


@pytest.mark.long
def test_the_bill_of_materials_is_whole_and_valid() -> None:
    made = bill()
    # CycloneDX 1.6 by its own schema.
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(json.dumps(made)) is None
    listed = {one["name"]: one for one in made["components"]}
    assert set(listed) == set(names()) | {one.name for one in SCRIPTS}
    hashed = {
        one["content"]
        for part in made["components"]
        for reference in part.get("externalReferences", ())
        for one in reference.get("hashes", ())
    }
    assert all(one in LOCK.read_text(encoding="utf-8") for one in hashed)
    assert len(hashed) > len(names())
    assert listed["htmx.org"]["purl"] == "pkg:npm/htmx.org@2.0.11"
