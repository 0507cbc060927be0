"""Run by alembic with the connection it was given; no settings file, no connection of its own."""

from __future__ import annotations

from alembic import context

from lagline.book.tables import metadata

# one transaction around everything: a step that fails leaves the book as it was
context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, transactional_ddl=True)
with context.begin_transaction():
    context.run_migrations()
