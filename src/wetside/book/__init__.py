"""What happened here: line kinds, things, lives, corrections and the text form. No disk, no clock."""
