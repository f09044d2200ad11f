"""Set up what the tests need, then run them: `python -m tests`, with any of pytest's own arguments after it.

Python packages go into the running environment. Debian packages are installed where this is Debian and the user is
root; elsewhere what lacks is named, and the tests that need it are skipped (with CI=true they fail). What is already
there is left alone, so that a second run needs no network.
"""

import importlib.metadata
import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

from tests.support.parts import PARTS, in_ci, lacks

__all__ = ["main"]

_ROOT = Path(__file__).resolve().parent.parent


def main(arguments: list[str]) -> int:
    """Install what lacks, say what could not be had, run pytest on all cores and return its exit code."""
    _install_python_packages()
    _install_debian_packages()
    _name_what_lacks()
    pytest = [sys.executable, "-m", "pytest"]
    if arguments:
        return subprocess.run([*pytest, *_spread(arguments), *arguments], cwd=_ROOT).returncode
    # JACK's servers and clients share one registry on a machine and hold each other up: its tests run by themselves,
    # and once more if that was not enough.
    apart = subprocess.run([*pytest, *_spread([]), "-m", "not benchmark and not jack"], cwd=_ROOT).returncode
    alone = [*pytest, "-m", "jack and not benchmark"]
    return apart or (subprocess.run(alone, cwd=_ROOT).returncode and subprocess.run(alone, cwd=_ROOT).returncode)


def _spread(arguments: list[str]) -> list[str]:
    """Use every core, unless the caller says how many or measures time."""
    chosen = any(argument.startswith(("-n", "--numprocesses", "--pdb")) for argument in arguments)
    return [] if chosen or "benchmark" in arguments else ["-n", "auto", "--dist", "loadgroup"]


def _install_python_packages() -> None:
    """Install this checkout for editing with its test extra, unless that is how it stands."""
    if _installed_from_here() and not _missing_distributions():
        return
    print("Installing the Python packages that the tests need ...", flush=True)
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "--editable", ".[test]"], cwd=_ROOT, check=True)


def _installed_from_here() -> bool:
    """Return whether `scenebook` means this checkout: a copy installed earlier would run old code in the journeys."""
    try:
        text = importlib.metadata.distribution("scenebook").read_text("direct_url.json")
    except importlib.metadata.PackageNotFoundError:
        return False
    origin = json.loads(text or "{}")
    return bool(origin.get("dir_info", {}).get("editable")) and origin.get("url") == _ROOT.as_uri()


def _missing_distributions() -> list[str]:
    """Return the requirements of the project and of its tests that this environment does not meet."""
    try:
        from packaging.requirements import Requirement
    except ImportError:
        return ["packaging"]
    project = tomllib.loads((_ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    requirements = map(Requirement, project["dependencies"] + project["optional-dependencies"]["test"])
    wanted = [entry for entry in requirements if entry.marker is None or entry.marker.evaluate()]
    return [entry.name for entry in wanted if not entry.specifier.contains(_version(entry.name), prereleases=True)]


def _version(name: str) -> str:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return "0"


def _install_debian_packages() -> None:
    """Install the packages that are missing, where that is ours to do."""
    if not _is_root_on_debian():
        return
    packages = [package for part in PARTS.values() for package in part.debian_packages]
    missing = [package for package in packages if not _has_debian_package(package)]
    if not missing:
        return
    print(f"Installing Debian packages: {' '.join(missing)} ...", flush=True)
    _apt("update")
    _apt("install", "--yes", "--no-install-recommends", *missing)


def _is_root_on_debian() -> bool:
    tools = all(shutil.which(tool) for tool in ("apt-get", "dpkg-query"))
    return tools and hasattr(os, "geteuid") and os.geteuid() == 0


def _has_debian_package(name: str) -> bool:
    """Return whether it is installed; where there is no dpkg, nothing is."""
    if shutil.which("dpkg-query") is None:
        return False
    query = ["dpkg-query", "--show", "--showformat", "${db:Status-Status}", name]
    return subprocess.run(query, capture_output=True, text=True).stdout == "installed"


def _apt(*arguments: str) -> None:
    """Run apt-get quietly; where it fails, show why and go on: the part is then named as lacking."""
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    command = ["apt-get", "-qq", *arguments]
    done = subprocess.run(command, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    if done.returncode != 0:
        print(f"apt-get {arguments[0]} failed:\n{done.stdout}{done.stderr}", file=sys.stderr, flush=True)


def _name_what_lacks() -> None:
    """Say before the tests run which of them can't, why, and what would bring the missing part."""
    fate = "fail, since CI=true" if in_ci() else "are skipped"
    for name, part in PARTS.items():
        lack = lacks(name)
        if lack:
            packages = [package for package in part.debian_packages if not _has_debian_package(package)]
            remedy = f" (on Debian: {' '.join(packages)})" if packages else ""
            print(f"Missing: {name}, for {part.purpose}: {lack}{remedy}. The tests that need it {fate}.", flush=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
