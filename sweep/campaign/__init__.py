"""The campaign and craft files: reading, checking, units."""
