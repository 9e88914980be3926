"""Unknown masses of a machine fitted to its charts."""
