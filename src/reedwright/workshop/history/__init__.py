"""What was measured of each harp, and when: one file a harp, to which measurements are added."""
