"""Many clients as a stream: the resources of each are found together, worked on, and written as they are made.

Nothing is held but what one client has, and a small index on the disk; so an input may be larger than memory.
"""
