"""Nothing is lost: the shelf checked, backed up, written out as plain files, and brought back."""
