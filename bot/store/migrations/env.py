"""Alembic's entry: migrates on the connection it is handed."""

from alembic import context

from bot.store.tables import Table

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Table.metadata,
    render_as_batch=True,
    transaction_per_migration=False,
)
context.run_migrations()
