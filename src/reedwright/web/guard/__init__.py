"""Who may ask, and what a page may do: hosts, origins, tokens, sizes, the content policy."""
