"""``python -m kdkit.publish.wording de``: a language's file with all that is to be translated."""

from __future__ import annotations

import re
import sys

from kdkit.publish.wording.messages import to_translate

if len(sys.argv) != 2 or not re.fullmatch(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*", sys.argv[1]):
    sys.exit("which language? For example: python -m kdkit.publish.wording de > de.toml")
print(to_translate(sys.argv[1]), end="")
