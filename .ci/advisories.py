"""No package that is built with has a fault that was known on the date of advisories.toml."""

import json
import pathlib
import re
import subprocess
import sys
import tomllib

HERE = pathlib.Path(__file__).parent
COMPARE = re.compile(r"^\s*(>=|<=|>|<|=|\^)?\s*(\d+(?:\.\d+)*)(-[\w.-]+)?\s*$")


def numbers(version):
    """A version's numbers; what is before a release counts as before it."""
    release, _, before = version.split("+")[0].partition("-")
    return (*(int(part) for part in release.split(".")), *[0] * (2 - release.count(".")), 0 if before else 1)


def holds(version, requirement):
    for part in requirement.split(","):
        match = COMPARE.match(part)
        if not match:
            sys.exit(f"FAILED: not understood: {requirement}")
        sign, release, before = match.groups()
        asked, version_numbers = numbers(release + (before or "")), numbers(version)
        if sign in (None, "^"):
            fixed = next((place for place, number in enumerate(asked[:3]) if number), 2) + 1
            ok = version_numbers >= asked and version_numbers[:fixed] == asked[:fixed]
        else:
            ok = {">=": version_numbers >= asked, "<=": version_numbers <= asked, ">": version_numbers > asked,
                  "<": version_numbers < asked, "=": version_numbers == asked}[sign]
        if not ok:
            return False
    return True


def main():
    # A check that lets everything pass would say nothing.
    for version, requirement, expected in [("0.10.0", "< 0.10.0, >= 0.9.3", False), ("0.9.4", "< 0.10.0, >= 0.9.3", True),
                                           ("1.2.3", "^1.2", True), ("0.3.1", "^0.2.4", False), ("1.0.0-rc1", ">= 1.0.0", False)]:
        if holds(version, requirement) != expected:
            sys.exit(f"FAILED: {version} and {requirement}")
    known = tomllib.loads((HERE / "advisories.toml").read_text(encoding="utf-8"))
    metadata = subprocess.run(["cargo", "metadata", "--format-version", "1", "--all-features"], check=True, capture_output=True)
    packages = json.loads(metadata.stdout)["packages"]
    found, checked = [], 0
    for advisory in known["advisory"]:
        for package in packages:
            if package["name"] == advisory["package"]:
                checked += 1
                if not any(holds(package["version"], good) for good in advisory["patched"] + advisory.get("unaffected", [])):
                    found.append(f"{package['name']} {package['version']}: {advisory['id']}")
    if not checked:
        sys.exit("FAILED: nothing was checked")
    if found:
        sys.exit("FAILED: known faults: " + "; ".join(found))
    print(f"{len(packages)} packages, {checked} known faults of {known['date']} in none of them")


main()
