"""Alembic's entry point: runs on the connection that records.upgrade hands over."""

from alembic import context

from steadfeed.records.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,  # SQLite can; a crash in mid-way leaves the old schema whole
    render_as_batch=context.config.attributes["connection"].dialect.name == "sqlite",
)
context.run_migrations()
