"""The one way in: what a file is, and how what it holds becomes a record."""
