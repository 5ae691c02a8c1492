"""`reedwright bench`: reed work, valves, measuring, and the paper for it; a file each below."""
