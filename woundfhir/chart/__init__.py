"""The only way to ask a record: order in time, which notes count, what is newest, named conditions."""
