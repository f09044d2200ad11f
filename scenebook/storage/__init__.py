"""The library: a SQLite file, and the folder of text files that it is read from and written to.

The store itself is in `store`, imported only once a library is opened, since it loads SQLAlchemy.
"""

from scenebook.storage.opening import backup, create_library, open_library

__all__ = ["backup", "create_library", "open_library"]
