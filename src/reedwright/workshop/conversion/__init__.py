"""From a harp that can be bought to another tuning and key: which reeds, how far, in what order."""
