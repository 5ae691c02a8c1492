"""A tune as the pages show it: opened from the shelf, arranged, drawn, timed, made sound."""
