"""The first tables, and what keeps the issued rows as they are.

A migration never changes once it was released; it says its tables itself and does not ask
``kdkit.archive.tables``, which is what the newest one leaves.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

FROZEN = ("content", "revision", "revision_file", "batch", "batch_file")


def upgrade() -> None:
    """Make the tables of a new archive."""
    text, whole = sa.Text, sa.Integer

    def said(name: str, kind: type = sa.Text, **more: object) -> sa.Column:  # type: ignore[type-arg]
        return sa.Column(name, kind, nullable=False, **more)  # type: ignore[arg-type]

    op.create_table(
        "content",
        sa.Column("sum", sa.String(64), primary_key=True),
        said("size", whole),
        said("packed", sa.LargeBinary),
    )
    op.create_table(
        "revision",
        sa.Column("id", whole, primary_key=True),
        said("product"),
        said("product_key", index=True),
        said("revision"),
        said("revision_key"),
        said("variant"),
        said("variant_key"),
        said("settings"),
        said("definition"),
        said("written_by"),
        said("issued"),
        sa.Column("seal", sa.String(64), nullable=False),
        sa.UniqueConstraint("product_key", "revision_key", "variant_key"),
    )
    op.create_table(
        "revision_file",
        sa.Column("revision_id", whole, sa.ForeignKey("revision.id"), primary_key=True),
        sa.Column("kind", text, primary_key=True),
        sa.Column("path", text, primary_key=True),
        sa.Column("sum", sa.String(64), sa.ForeignKey("content.sum"), nullable=False),
    )
    op.create_table(
        "batch",
        sa.Column("id", whole, primary_key=True),
        sa.Column("revision_id", whole, sa.ForeignKey("revision.id"), nullable=False, index=True),
        said("product_key"),
        said("batch"),
        said("batch_key", index=True),
        said("count", whole),
        said("made"),
        said("own", sa.Boolean),
        said("recorded"),
        sa.Column("seal", sa.String(64), nullable=False),
        sa.UniqueConstraint("product_key", "batch_key"),
    )
    op.create_table(
        "batch_file",
        sa.Column("batch_id", whole, sa.ForeignKey("batch.id"), primary_key=True),
        sa.Column("kind", text, primary_key=True),
        sa.Column("path", text, primary_key=True),
        sa.Column("sum", sa.String(64), sa.ForeignKey("content.sum"), nullable=False),
    )
    op.create_table(
        "sent",
        sa.Column("id", whole, primary_key=True),
        said("at"),
        sa.Column("revision_id", whole, sa.ForeignKey("revision.id"), nullable=False, index=True),
        sa.Column("batch_id", whole, sa.ForeignKey("batch.id"), index=True),
        said("item", index=True),
        said("title"),
        said("quantity", whole),
        said("why"),
        sa.Column("reference", text),
    )
    _freeze()


def _freeze() -> None:
    """Let the database refuse what would change or remove an issued row."""
    dialect = op.get_bind().dialect.name
    if dialect == "postgresql":
        op.execute(
            "CREATE FUNCTION issued_stays() RETURNS trigger AS $$ BEGIN "
            "RAISE EXCEPTION 'what is issued never changes'; END $$ LANGUAGE plpgsql"
        )
    for table in FROZEN:
        for deed in ("UPDATE", "DELETE"):
            name = f"{table}_no_{deed.lower()}"
            if dialect == "sqlite":
                op.execute(
                    f"CREATE TRIGGER {name} BEFORE {deed} ON {table} BEGIN "
                    "SELECT RAISE(ABORT, 'what is issued never changes'); END"
                )
            elif dialect == "postgresql":
                op.execute(
                    f"CREATE TRIGGER {name} BEFORE {deed} ON {table} "
                    "FOR EACH STATEMENT EXECUTE FUNCTION issued_stays()"
                )
