"""Tables for analysis."""
