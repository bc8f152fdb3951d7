"""The sheet to print: one page a client, one part a wound."""
