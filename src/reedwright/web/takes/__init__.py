"""Takes: a recording heard against its tune; report, cuts, practice tracks."""
