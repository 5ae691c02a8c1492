"""Work that takes long: done in a process of its own, with progress, and stopped when asked."""
