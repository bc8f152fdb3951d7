"""What the next nurse needs to know, out of the notes that count."""
