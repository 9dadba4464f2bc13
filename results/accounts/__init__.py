"""People's accounts: confirming and mail, leaving, and taking one's own data along."""
