"""What the program is made of, for whoever must know: every package of the lock with its license, and as one list.

``python -m tests.supply licenses`` prints them, and ends with 1 if one of them doesn't fit.
``python -m tests.supply bom FILE`` writes the bill of materials (CycloneDX 1.6, JSON), scripts of others included.
"""

import hashlib
import json
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LOCK = ROOT / "requirements-lock.txt"
PINNED = re.compile(r"^([\w.-]+)(?:\[[\w,-]+\])?==", re.MULTILINE)
FITTING = re.compile(
    r"\b(0?BSD|MIT|MIT-0|Apache|ISC|PSF|Zlib|CC0|ZPL|Zope|LGPL|Lesser General Public|MPL|Mozilla)\b",
    re.IGNORECASE,
)
"""Licenses under which a district may run the program and pass it on; those for libraries, as none is changed."""
BY_TEXT = (
    ("Redistribution and use in source and binary forms", "BSD, by its text"),
    ("Permission is hereby granted, free of charge", "MIT, by its text"),
)


@dataclass(frozen=True)
class Script:
    """A script of other people that the program hands out, unchanged."""

    name: str
    version: str
    license: str
    file: str


SCRIPTS = (
    Script("htmx.org", "2.0.11", "0BSD", "config/static/vendor/htmx.min.js"),
    Script("idb", "8.0.4", "ISC", "config/static/vendor/idb.js"),
    Script("leaflet", "1.9.4", "BSD-2-Clause", "travel/static/travel/vendor/leaflet/leaflet.js"),
)


def names() -> list[str]:
    """Every package that may be installed to run the program."""
    return sorted(set(PINNED.findall(LOCK.read_text(encoding="utf-8"))))


def license_of(found: Distribution) -> str:
    """What a package says of its license: by SPDX (PEP 639), else by its classifiers, else in its own words."""
    told = found.metadata
    if expression := told.get("License-Expression"):
        return expression
    kinds = [one.split(" :: ")[-1] for one in told.get_all("Classifier") or [] if one.startswith("License ::")]
    if kinds:
        return " OR ".join(kinds)
    text = told.get("License") or ""
    return next((name for part, name in BY_TEXT if part in text), text.partition("\n")[0])


def fits(license: str) -> bool:  # noqa: A002 -- what it is
    """Whether the program may be passed on with it: one of those to choose from, every one that holds together."""
    return any(
        all(FITTING.search(part) for part in choice.split(" AND ")) for choice in license.split(" OR ") if choice
    )


def licenses() -> dict[str, str]:
    """By package; those for other systems and Pythons, which aren't installed here, are left out."""
    found = {}
    for name in names():
        try:
            found[name] = license_of(distribution(name))
        except PackageNotFoundError:
            continue
    return found


def bill() -> dict[str, Any]:
    """The bill of materials: the lock with its hashes, and the scripts."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "bom.json"
        words = ["requirements", str(LOCK), "--pyproject", str(ROOT / "pyproject.toml"), "--short-PURLs"]
        program = [sys.executable, "-W", "ignore", "-m", "cyclonedx_py"]
        options = ["--output-reproducible", "-o", str(file)]
        subprocess.run([*program, *words, *options], check=True, capture_output=True)
        made: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    known = licenses()
    for one in made["components"]:
        # The line of the lock, which says nothing that the hashes don't.
        one.pop("description", None)
        if one["name"] in known:
            one["licenses"] = [{"license": {"name": known[one["name"]]}}]
    made["components"] += [_component(script) for script in SCRIPTS]
    return made


def _component(script: Script) -> dict[str, Any]:
    content = (ROOT / script.file).read_bytes()
    return {
        "bom-ref": f"script-{script.name}",
        "type": "library",
        "name": script.name,
        "version": script.version,
        "purl": f"pkg:npm/{script.name}@{script.version}",
        "licenses": [{"license": {"id": script.license}}],
        "hashes": [{"alg": "SHA-256", "content": hashlib.sha256(content).hexdigest()}],
    }


def main(words: list[str]) -> int:
    """Do what is asked."""
    if words[:1] == ["bom"] and len(words) == 2:
        Path(words[1]).write_text(json.dumps(bill(), indent=1) + "\n", encoding="utf-8")
        return 0
    if words != ["licenses"]:
        sys.stderr.write("Use: python -m tests.supply licenses, or python -m tests.supply bom FILE\n")
        return 2
    found = licenses()
    for name, told in found.items():
        sys.stdout.write(f"{name:36} {told}{'' if fits(told) else '   DOES NOT FIT'}\n")
    return 0 if all(fits(told) for told in found.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
