"""Sums over what was sent, kept as it is noted; and the bag that was sent whole."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_ADD = (
    "INSERT INTO sent_sum (revision_id, batch_id, item, why, pieces, notes, last) "
    "VALUES (NEW.revision_id, COALESCE(NEW.batch_id, 0), NEW.item, NEW.why, NEW.quantity, 1, "
    "NEW.id) ON CONFLICT (revision_id, batch_id, item, why) DO UPDATE SET "
    "pieces = sent_sum.pieces + excluded.pieces, notes = sent_sum.notes + 1, "
    "last = CASE WHEN excluded.last > sent_sum.last THEN excluded.last ELSE sent_sum.last END"
)


def upgrade() -> None:
    """Count what is noted already, and let the database count what will be; notes stay."""
    text, whole = sa.Text, sa.Integer
    op.add_column("sent", sa.Column("bag", text, nullable=False, server_default=""))
    op.create_table(
        "sent_sum",
        sa.Column("revision_id", whole, primary_key=True, autoincrement=False),
        sa.Column("batch_id", whole, primary_key=True, autoincrement=False),
        sa.Column("item", text, primary_key=True),
        sa.Column("why", text, primary_key=True),
        sa.Column("pieces", whole, nullable=False),
        sa.Column("notes", whole, nullable=False),
        sa.Column("last", whole, nullable=False),
    )
    op.execute(
        "INSERT INTO sent_sum (revision_id, batch_id, item, why, pieces, notes, last) "
        "SELECT revision_id, COALESCE(batch_id, 0), item, why, SUM(quantity), COUNT(*), MAX(id) "
        "FROM sent GROUP BY revision_id, COALESCE(batch_id, 0), item, why"
    )
    op.drop_index("ix_sent_counts", "sent")
    dialect = op.get_bind().dialect.name
    if dialect == "sqlite":
        op.execute(f"CREATE TRIGGER sent_counted AFTER INSERT ON sent BEGIN {_ADD}; END")
    elif dialect == "postgresql":
        op.execute(
            "CREATE FUNCTION count_sent() RETURNS trigger AS $$ BEGIN "
            f"{_ADD}; RETURN NEW; END $$ LANGUAGE plpgsql"
        )
        op.execute(
            "CREATE TRIGGER sent_counted AFTER INSERT ON sent "
            "FOR EACH ROW EXECUTE FUNCTION count_sent()"
        )
