"""Pages in a real browser, Debian's Chromium, with the network off."""
