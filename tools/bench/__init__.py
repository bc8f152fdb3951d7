"""The parts of the benchmark: each measures public calls, and gives figures with their aims."""
