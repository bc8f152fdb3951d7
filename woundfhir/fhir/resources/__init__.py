"""One module for each resource, its building and its reading next to each other."""
