"""A command starts quickly: what is slow to load is loaded when it is needed, and no sooner."""

import subprocess
import sys
from pathlib import Path

import pytest

_SLOW = ("sqlalchemy", "sqlalchemy.orm", "alembic", "yaml", "ruamel.yaml", "jsonschema")


def loaded_by(code: str) -> set[str]:
    """Return which of the slow modules a fresh Python has loaded after some code."""
    tell = f"import sys; print(*[name for name in {_SLOW!r} if name in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", f"{code}\n{tell}"], capture_output=True, text=True, check=True)
    return set(ran.stdout.split())


@pytest.mark.parametrize(
    ("code", "slow"),
    [
        ("import scenebook.storage", set()),
        ("from scenebook.storage import open_library, create_library, backup", set()),
        ("{open} as store: store.names('song'); store.gig_slice('pier')", {"sqlalchemy"}),
    ],
)
def test_only_what_is_needed_is_loaded(path: Path, store: object, code: str, slow: set[str]) -> None:
    """Reading a gig needs neither alembic nor the object mapper nor YAML."""
    opening = (
        f"from pathlib import Path; from scenebook.storage import open_library\nwith open_library(Path({str(path)!r}))"
    )

    assert loaded_by(code.replace("{open}", opening)) == slow
