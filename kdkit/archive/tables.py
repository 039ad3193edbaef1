"""The tables of an archive, as the newest migration leaves them."""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = [
    "ACCOUNT",
    "BATCH",
    "BATCH_FILE",
    "CONTENT",
    "FROZEN",
    "NEWEST",
    "REVISION",
    "REVISION_FILE",
    "SENT",
    "SENT_SUM",
    "SUPERSEDED",
    "TABLES",
]

NEWEST = "0003"
"""The migration that made these tables what they are."""

TABLES = MetaData()

CONTENT = Table(
    "content",
    TABLES,
    Column("sum", String(64), primary_key=True),
    Column("size", Integer, nullable=False),
    Column("packed", LargeBinary, nullable=False),  # zlib
)

REVISION = Table(
    "revision",
    TABLES,
    Column("id", Integer, primary_key=True),
    Column("product", Text, nullable=False),
    Column("product_key", Text, nullable=False, index=True),
    Column("revision", Text, nullable=False),
    Column("revision_key", Text, nullable=False),
    Column("variant", Text, nullable=False),
    Column("variant_key", Text, nullable=False),
    Column("settings", Text, nullable=False),  # JSON
    Column("definition", Text, nullable=False),
    Column("written_by", Text, nullable=False),
    Column("issued", Text, nullable=False),
    Column("seal", String(64), nullable=False),
    UniqueConstraint("product_key", "revision_key", "variant_key"),
)

REVISION_FILE = Table(
    "revision_file",
    TABLES,
    Column("revision_id", ForeignKey("revision.id"), primary_key=True),
    Column("kind", Text, primary_key=True),
    Column("path", Text, primary_key=True),
    Column("sum", ForeignKey("content.sum"), nullable=False),
)

BATCH = Table(
    "batch",
    TABLES,
    Column("id", Integer, primary_key=True),
    Column("revision_id", ForeignKey("revision.id"), nullable=False, index=True),
    Column("product_key", Text, nullable=False),
    Column("batch", Text, nullable=False),
    Column("batch_key", Text, nullable=False, index=True),
    Column("count", Integer, nullable=False),
    Column("made", Text, nullable=False),
    Column("own", Boolean, nullable=False),
    Column("recorded", Text, nullable=False),
    Column("seal", String(64), nullable=False),
    UniqueConstraint("product_key", "batch_key"),
)

BATCH_FILE = Table(
    "batch_file",
    TABLES,
    Column("batch_id", ForeignKey("batch.id"), primary_key=True),
    Column("kind", Text, primary_key=True),
    Column("path", Text, primary_key=True),
    Column("sum", ForeignKey("content.sum"), nullable=False),
)

SENT = Table(
    "sent",
    TABLES,
    Column("id", Integer, primary_key=True),
    Column("at", Text, nullable=False),
    Column("revision_id", ForeignKey("revision.id"), nullable=False, index=True),
    Column("batch_id", ForeignKey("batch.id"), index=True),
    Column("item", Text, nullable=False, index=True),
    Column("title", Text, nullable=False),
    Column("quantity", Integer, nullable=False),
    Column("why", Text, nullable=False),
    Column("reference", Text),
    Column("instead", Text, nullable=False, server_default=""),
    Column("bag", Text, nullable=False, server_default=""),
)

SENT_SUM = Table(
    "sent_sum",  # kept by a trigger of the database: a row of ``sent`` is added as it is noted
    TABLES,
    Column("revision_id", Integer, primary_key=True),
    Column("batch_id", Integer, primary_key=True),  # 0: without a batch
    Column("item", Text, primary_key=True),
    Column("why", Text, primary_key=True),
    Column("pieces", Integer, nullable=False),
    Column("notes", Integer, nullable=False),
    Column("last", Integer, nullable=False),
)

SUPERSEDED = Table(
    "superseded",
    TABLES,
    Column("id", Integer, primary_key=True),
    Column("recorded", Text, nullable=False),
    Column("since", Text, nullable=False),  # a date, ISO 8601
    Column("item", Text, nullable=False, index=True),
    Column("instead", Text, nullable=False),  # "": it is sent itself again
    Column("title", Text, nullable=False),
    Column("why", Text, nullable=False),
)

ACCOUNT = Table(
    "account",
    TABLES,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("secret", Text, nullable=False),
    Column("made", Text, nullable=False),
)

FROZEN = ("content", "revision", "revision_file", "batch", "batch_file", "superseded")
"""Tables whose rows the database itself lets nobody change or take away."""
