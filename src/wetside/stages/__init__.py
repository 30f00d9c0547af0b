"""What follows, for this roll. Stages take arrays, strips and lines; they never open a file or each other."""
