"""Run by the migration library: the connection comes from ``opening``."""

from __future__ import annotations

from alembic import context

from kdkit.archive.tables import TABLES

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=TABLES)
context.run_migrations()
