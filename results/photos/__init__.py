"""Photos of breaks: each is made anew from what was sent, and kept with its study."""
