"""Design storms, what runs off, peaks, and the chain of works that spill into each other."""
