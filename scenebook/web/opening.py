"""Open the page of a stand: serve it to this computer, or to others too, and give the addresses with their keys."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from scenebook.live.facing import Records, Stand
from scenebook.web.app import create_app
from scenebook.web.keys import FileKeyStore, Keys, Right
from scenebook.web.qr import qr_text
from scenebook.web.serving import PORT, Serving, serve

__all__ = ["PORT", "Page", "open_page"]


@dataclass(frozen=True)
class Page:
    """A stand's page that is served. `shown` is the address at which others reach this computer; "" is not shared."""

    serving: Serving
    keys: Keys
    shown: str = ""

    @property
    def bare(self) -> str:
        """The address on this computer without a key, for a browser that has opened it before."""
        return self.serving.address("/")

    def address(self, right: Right, *, is_here: bool = False) -> str:
        """Return an address with the key that is good now; for this computer (`is_here`) with one more of its own."""
        if is_here:
            return self.serving.address(f"/open/{self.keys.another(right)}")
        return self.serving.address(f"/open/{self.keys.key(right)}", self.shown)

    def code(self, right: Right) -> str:
        """Return the address for others as a QR code for a terminal."""
        return qr_text(self.address(right))

    def close(self) -> None:
        """Serve no longer."""
        self.serving.close()


def open_page(
    stand: Stand,
    key_file: Path,
    *,
    records: Records | None = None,
    port: int = PORT,
    addresses: Sequence[str] = (),
) -> Page:
    """Serve a stand to this computer alone or, with `addresses` of it, to all that reach it there.

    Raises:
        WebError: no port is free.
        OutputError: the keys cannot be kept.
    """
    keys = Keys(FileKeyStore(key_file))
    shown = addresses[0] if addresses else ""
    app = create_app(stand, keys, records=records, hosts=addresses, shown=shown)
    return Page(serve(app, "0.0.0.0" if addresses else "127.0.0.1", port), keys, shown)
