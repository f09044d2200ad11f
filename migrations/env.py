"""Run the revisions over the connection that whoever upgrades a library hands in; there is no other way to run them.

The caller owns the transaction, so an upgrade happens wholly or not at all.
"""

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=context.config.attributes.get("metadata"),
    transactional_ddl=True,
    render_as_batch=True,
)
context.run_migrations()
