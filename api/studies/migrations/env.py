"""Alembic's entry: brings the tables of the studies up to date on the connection given."""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
with context.begin_transaction():
    context.run_migrations()
