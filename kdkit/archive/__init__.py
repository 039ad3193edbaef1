"""Row 12: revisions as they were issued, the batches made of them, and what was sent later.

Promises: what is issued never changes and never vanishes; another content is another
revision. An archive holds the whole of a revision or nothing of it, whenever the process or
the machine ends. What is read is checked against its sum, and damage is named.

One SQLite file by default; any SQLAlchemy URL where several desks share it. The database
library and its migrations are used here and nowhere else. Files are kept once by their
SHA-256 however many revisions hold them. Cost: issuing is linear in the bytes that are new;
finding goes over indexes.
"""

from kdkit.archive.exchange import export_revision, import_revision
from kdkit.archive.finding import Found, all_revisions, batches_of, files_of, find
from kdkit.archive.issued import Batch, IssuedFile, Revision, Sent
from kdkit.archive.keeping import back_up, verify_archive
from kdkit.archive.opening import Archive, new_archive, open_archive
from kdkit.archive.storing import forget_reference, log_sent, sent_for, store_batch, store_revision

__all__ = [
    "Archive",
    "Batch",
    "Found",
    "IssuedFile",
    "Revision",
    "Sent",
    "all_revisions",
    "back_up",
    "batches_of",
    "export_revision",
    "files_of",
    "find",
    "forget_reference",
    "import_revision",
    "log_sent",
    "new_archive",
    "open_archive",
    "sent_for",
    "store_batch",
    "store_revision",
    "verify_archive",
]
