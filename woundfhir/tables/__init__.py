"""Tables of others (CSV, XLSX, rows of a database) read by a mapping that says what each column means."""
