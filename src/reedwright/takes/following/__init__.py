"""Following: where in a take each written note of its tune is, whatever the player did."""
