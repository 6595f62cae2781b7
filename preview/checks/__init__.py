"""Checks: what would be seen on air and should not be, found before the show. One trade word a file."""
