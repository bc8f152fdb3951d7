"""The version, alone in a file so that asking for it costs nothing."""

__version__ = "0.1.0"
