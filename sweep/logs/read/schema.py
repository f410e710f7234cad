"""JSON Schema of the mapping file, by which an editor completes and checks it."""

from __future__ import annotations

from typing import Any

from sweep.campaign.schema import schema_of
from sweep.logs.read.mapping_file import MappingFile


def mapping_schema() -> dict[str, Any]:
    """The schema by which an editor completes and checks a mapping file."""
    return schema_of(MappingFile)
