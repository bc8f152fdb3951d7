"""Pictures: what a camera wrote into them is found and taken out; size and hash."""
