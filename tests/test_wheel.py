"""The wheel holds everything that the tool needs away from its checkout, and installs without a compiler."""

import subprocess
import sys
import tomllib
import zipfile
from email.parser import HeaderParser
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from tests.support.checkout import ROOT, project_files

# Where python-rtmidi 1.5.8 has a ready-made wheel, asked of its index for each of these in 2026-11.
WITH_WHEEL = [
    ("3.11", "linux", "x86_64"),
    ("3.11", "linux", "aarch64"),
    ("3.12", "linux", "x86_64"),
    ("3.12", "linux", "aarch64"),
    ("3.11", "darwin", "arm64"),
    ("3.12", "darwin", "x86_64"),
    ("3.11", "win32", "AMD64"),
    ("3.12", "win32", "AMD64"),
]
WITHOUT_WHEEL = [
    ("3.13", "linux", "x86_64"),
    ("3.14", "linux", "x86_64"),
    ("3.13", "darwin", "arm64"),
    ("3.14", "win32", "AMD64"),
    ("3.12", "win32", "ARM64"),
    ("3.12", "linux", "armv7l"),
]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return zipfile.ZipFile(next(folder.glob("*.whl")))


def test_the_wheel_holds_the_package_the_migrations_and_the_demo_library(wheel: zipfile.ZipFile) -> None:
    """A player who installs the tool gets the demo and the upgrade of an older library as well."""
    places = {"scenebook": "scenebook"} | {name: f"scenebook/_{name}" for name in ("migrations", "demo_library")}
    expected = {
        Path(places[path.parts[0]], *path.parts[1:]).as_posix() for path in project_files() if path.parts[0] in places
    }

    assert expected - set(wheel.namelist()) == set()


def test_the_wheel_carries_every_licence(wheel: zipfile.ZipFile) -> None:
    """The licences of fonts and of the page's script have to travel with them."""
    names = {name.split("/licenses/")[1] for name in wheel.namelist() if "/licenses/" in name}

    fonts, script = "scenebook/sheets/fonts/LICENSE-DejaVu.txt", "scenebook/web/static/LICENSE-idiomorph.txt"
    assert names == {"LICENSE", fonts, script}


def test_the_wheel_names_the_version_of_the_package(wheel: zipfile.ZipFile) -> None:
    """What `scenebook --version` says is what was installed."""
    import scenebook

    metadata = next(name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))

    assert HeaderParser().parsestr(wheel.read(metadata).decode())["Version"] == scenebook.__version__


def rtmidi_marker() -> Requirement:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return next(entry for entry in map(Requirement, project["dependencies"]) if entry.name == "python-rtmidi")


@pytest.mark.parametrize(("python", "system", "machine"), WITH_WHEEL + WITHOUT_WHEEL)
def test_system_ports_are_asked_for_only_where_a_wheel_exists(python: str, system: str, machine: str) -> None:
    """A laptop in a van has no compiler: there the loopback serves rather than the installation failing."""
    marker = rtmidi_marker().marker
    assert marker is not None
    place = {
        "python_version": python,
        "sys_platform": system,
        "platform_machine": machine,
        "implementation_name": "cpython",
    }

    assert marker.evaluate(place) == ((python, system, machine) in WITH_WHEEL)
