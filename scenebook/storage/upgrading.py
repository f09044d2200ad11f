"""Run the alembic revisions over a library. Imported only when one is due, since alembic is slow to load."""

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from scenebook.resources import migrations_folder
from scenebook.storage.connecting import transaction
from scenebook.storage.marks import APPLICATION_ID, HEAD

__all__ = ["settings_for", "upgrade"]


def upgrade(connection: Connection, revision: str = HEAD) -> None:
    """Bring a library's tables, or an empty file, to a revision: in one transaction, wholly or not at all.

    Raises:
        sqlite3.Error: the file cannot be written.
    """
    try:
        with transaction(connection, write=True):
            command.upgrade(settings_for(connection), revision)
            assert not connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    except DBAPIError as error:
        raise error.orig or error from error


def settings_for(connection: Connection) -> Config:
    """Return what alembic needs to know: where the revisions lie, and over which connection to run them."""
    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config
