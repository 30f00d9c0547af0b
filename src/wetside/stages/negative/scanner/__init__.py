"""What the scanner did: its light, stray light, exposure, noise, sharpening."""
