"""Row 12: revisions as they were issued, the batches made of them, and what was sent later.

Promises: what is issued never changes and never vanishes; another content is another
revision. An archive holds the whole of a revision or nothing of it, whenever the process or
the machine ends. What is read is checked against its sum, and damage is named.

One SQLite file by default; any SQLAlchemy URL where several desks share it. The database
library and its migrations are used here and nowhere else. Files are kept once by their
SHA-256 however many revisions hold them. Cost: issuing is linear in the bytes that are new;
finding goes over indexes.
"""

from kdkit.archive.counting import SentCount, count_sent
from kdkit.archive.exchange import export_revision, import_revision
from kdkit.archive.finding import (
    Found,
    all_revisions,
    batch_numbered,
    batches_of,
    file_of_sum,
    files_of,
    find,
    list_files,
    revision_numbered,
)
from kdkit.archive.issued import Batch, IssuedFile, Revision, Sent
from kdkit.archive.keeping import back_up, verify_archive
from kdkit.archive.labels import find_said, read_label
from kdkit.archive.opening import Archive, new_archive, open_archive
from kdkit.archive.storing import forget_reference, log_sent, sent_for, store_batch, store_revision
from kdkit.archive.superseding import Superseded, in_force, superseded

__all__ = [
    "Archive",
    "Batch",
    "Found",
    "IssuedFile",
    "Revision",
    "Sent",
    "SentCount",
    "Superseded",
    "all_revisions",
    "back_up",
    "batch_numbered",
    "batches_of",
    "count_sent",
    "export_revision",
    "file_of_sum",
    "files_of",
    "find",
    "find_said",
    "forget_reference",
    "import_revision",
    "in_force",
    "list_files",
    "log_sent",
    "new_archive",
    "open_archive",
    "read_label",
    "revision_numbered",
    "sent_for",
    "store_batch",
    "store_revision",
    "superseded",
    "verify_archive",
]
