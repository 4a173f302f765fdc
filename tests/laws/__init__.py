"""Laws of the whole engine, each checked against an answer made without it."""
