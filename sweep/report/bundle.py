"""A site as one file to send: the same pages give the same bytes."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping

OLDEST = (1980, 1, 1, 0, 0, 0)
"""The first moment that the format knows: every entry bears it, so that no clock gets in."""
READABLE = 0o644 << 16  # permissions of a file for everybody to read, where the format has them


def bundle(name: str, files: Mapping[str, str | bytes]) -> bytes:
    """Files by their path as a zip archive, in one folder of this name and in the order of their paths."""
    inside, buffer = folder_name(name), io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for path in sorted(files):
            entry = zipfile.ZipInfo(f"{inside}/{path}", OLDEST)
            entry.compress_type, entry.create_system, entry.external_attr = zipfile.ZIP_DEFLATED, 3, READABLE
            archive.writestr(entry, files[path], compresslevel=9)
    return buffer.getvalue()


def folder_name(name: str) -> str:
    """A name that is a folder's anywhere: letters, digits, '_' and '-' only."""
    return re.sub(r"[^A-Za-z0-9_]+", "-", name).strip("-") or "site"
