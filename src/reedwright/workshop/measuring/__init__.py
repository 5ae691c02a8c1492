"""What reeds sound: tones found in a recording, measured to a fraction of a cent, and named."""
