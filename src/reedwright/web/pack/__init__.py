"""The pack: settings with a live preview of its page, and making it."""
