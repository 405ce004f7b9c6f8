"""Pages that a reader moves: one file each, without network and without Python."""
