"""Maps of codes."""
