"""Every word that the screen shows or says, in English, by key."""
