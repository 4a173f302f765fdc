"""The dig plan: where the machine stands, what it digs from there, and where each bucket goes."""
