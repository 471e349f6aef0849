"""The frame log (SQLite) and the files beside it."""

from controller.store.export import csv_lines
from controller.store.plans import content_hash
from controller.store.store import Store

__all__ = ["Store", "content_hash", "csv_lines"]
