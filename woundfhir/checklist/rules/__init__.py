"""The rules that are written by hand, one module for each part of the checklist."""
