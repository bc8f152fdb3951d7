"""Keys, signatures and encryption (JOSE: RFC 7515, 7516, 7517, 7797)."""
