"""Tables for analysis, with a fixed schema: one long table of facts and wide ones, as rows, Arrow, Parquet and CSV."""

from woundfhir.flat.rows import to_rows
from woundfhir.flat.schema import NAMES, Column, Table, table_of, tables, version

__all__ = ["NAMES", "Column", "Table", "table_of", "tables", "to_rows", "version"]
