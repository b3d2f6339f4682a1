"""What the shell offers: a module each, imported when its command is used."""
