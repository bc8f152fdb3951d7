"""What others send: invented inputs in the public shapes of guides, synthetic patients and servers."""
