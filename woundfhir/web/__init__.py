"""What listens on this machine: who may ask, how much, and what an answer never holds. Needs the extra ``server``."""
