"""Who may see a stand, and who may step it: keys that are good for one opening, and the cookies that follow them."""

import hashlib
import hmac
import secrets
import threading
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Protocol

from scenebook.errors import AccessError
from scenebook.web.private import read_private, write_private

__all__ = ["FileKeyStore", "KeyStore", "Keys", "MemoryKeyStore", "Right"]

_SECRET_BYTES = 32  # as long as the SHA-256 that it keys (RFC 2104, section 3)
_MOST_OTHERS = 8
_KEY_BYTES = 16  # nobody guesses 128 bits in an evening


class Right(StrEnum):
    """What a key and its cookie let their holder do; who may step may see."""

    SEE = "see"
    STEP = "step"


class KeyStore(Protocol):
    """Where the secret is kept from which cookies are made, so that they outlast the stand's process."""

    def load(self) -> bytes | None:
        """Return the secret, or None where there is none yet."""

    def save(self, secret: bytes) -> None:
        """Keep the secret. Raises OutputError."""


class MemoryKeyStore:
    """A secret that lives as long as this object."""

    def __init__(self) -> None:
        self._secret: bytes | None = None

    def load(self) -> bytes | None:
        """Return the secret."""
        return self._secret

    def save(self, secret: bytes) -> None:
        """Keep the secret."""
        self._secret = secret


class FileKeyStore:
    """A secret in a file that only its owner may read; one file for each evening, since its cookies end with it."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def load(self) -> bytes | None:
        """Return the secret; a file that is damaged, or that others may read, gives none, and a new one follows."""
        try:
            secret = bytes.fromhex(read_private(self._path) or "")
        except ValueError:
            return None
        return secret if len(secret) == _SECRET_BYTES else None

    def save(self, secret: bytes) -> None:
        """Write the file whole or not at all, closed to others from the beginning."""
        write_private(self._path, secret.hex(), "the keys of the stand")


class Keys:
    """The two keys that open a stand now, and the cookies of those who have opened it. Any thread.

    A key is good for one opening; then a fresh one takes its place. Fresh ones come with every start as well. A cookie
    holds what it allows, a random part and their HMAC (RFC 2104, with SHA-256), so nothing has to be kept for it.
    """

    def __init__(
        self, store: KeyStore, *, fresh: Callable[[], str] = lambda: secrets.token_urlsafe(_KEY_BYTES)
    ) -> None:
        """Raises OutputError where the secret cannot be kept."""
        secret = store.load()
        if secret is None:
            secret = secrets.token_bytes(_SECRET_BYTES)
            store.save(secret)
        self._secret, self._fresh, self._lock = secret, fresh, threading.Lock()
        self._open = {right: fresh() for right in Right}
        self._others: dict[str, Right] = {}

    @property
    def cookie(self) -> str:
        """The cookie's name: a browser tells hosts apart and not ports, so each secret has a name of its own."""
        return f"scenebook-{hashlib.sha256(self._secret).hexdigest()[:8]}"

    def key(self, right: Right) -> str:
        """Return the key that opens the stand now with a right."""
        with self._lock:
            return self._open[right]

    def another(self, right: Right) -> str:
        """Return one more key, beside the two that are shown: for a browser that the stand itself opens.

        The newest few are good.
        """
        with self._lock:
            key = self._fresh()
            self._others[key] = right
            for old in list(self._others)[:-_MOST_OTHERS]:
                del self._others[old]
        return key

    def spend(self, key: str) -> Right:
        """Take a key, put a fresh one in its place, and return what it allows.

        Raises:
            AccessError: it is none of the two, or has been used.
        """
        given = key.encode("utf-8", "surrogatepass")
        with self._lock:
            known = [*((mine, right) for right, mine in self._open.items()), *self._others.items()]
            found = [(mine, right) for mine, right in known if hmac.compare_digest(given, mine.encode())]
            if not found:
                raise AccessError(
                    "this key is wrong, or has been used: a key opens the stand once",
                    remedy="Take a fresh address from a page that steps: Tonight, Another screen; "
                    "with --share the terminal gives one as well",
                )
            spent, right = found[0]
            if self._others.pop(spent, None) is None:
                self._open[right] = self._fresh()
        return right

    def admitted(self, right: Right) -> str:
        """Return the value of a new cookie that allows so much."""
        words = f"{right}.{secrets.token_urlsafe(_KEY_BYTES)}"
        return f"{words}.{self._mac(words)}"

    def right_of(self, cookie: str | None) -> Right | None:
        """Return what a cookie allows; None for no cookie, or one that was not made here."""
        words, _, mac = (cookie or "").rpartition(".")
        if not hmac.compare_digest(mac.encode("utf-8", "surrogatepass"), self._mac(words).encode()):
            return None
        name = words.partition(".")[0]
        return Right(name) if name in tuple(Right) else None

    def _mac(self, words: str) -> str:
        return hmac.new(self._secret, words.encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()
