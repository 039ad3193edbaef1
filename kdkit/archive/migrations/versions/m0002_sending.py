"""What is sent instead of an item, who may use a shared desk, and counts over what was sent."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add to the first tables; no issued row is touched."""
    text, whole = sa.Text, sa.Integer
    op.create_table(
        "superseded",
        sa.Column("id", whole, primary_key=True),
        sa.Column("recorded", text, nullable=False),
        sa.Column("since", text, nullable=False),
        sa.Column("item", text, nullable=False, index=True),
        sa.Column("instead", text, nullable=False),
        sa.Column("title", text, nullable=False),
        sa.Column("why", text, nullable=False),
    )
    op.create_table(
        "account",
        sa.Column("id", whole, primary_key=True),
        sa.Column("name", text, nullable=False),
        sa.Column("name_key", text, nullable=False, unique=True),
        sa.Column("secret", text, nullable=False),
        sa.Column("made", text, nullable=False),
    )
    op.add_column("sent", sa.Column("instead", text, nullable=False, server_default=""))
    op.create_index(
        "ix_sent_counts", "sent", ["revision_id", "batch_id", "item", "why", "quantity"]
    )
    _freeze("superseded")


def _freeze(table: str) -> None:
    """Let the database refuse what would change or remove a row; a later row says otherwise."""
    dialect = op.get_bind().dialect.name
    for deed in ("UPDATE", "DELETE"):
        name = f"{table}_no_{deed.lower()}"
        if dialect == "sqlite":
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {deed} ON {table} BEGIN "
                "SELECT RAISE(ABORT, 'what is recorded stays'); END"
            )
        elif dialect == "postgresql":
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {deed} ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION issued_stays()"
            )
