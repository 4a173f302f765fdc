"""Floor 8: the job file, and one function a question."""
