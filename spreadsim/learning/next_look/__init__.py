"""Where to look next: hours of searching shared out by the harm that finding vine now avoids."""
