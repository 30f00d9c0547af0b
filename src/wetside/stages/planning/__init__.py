"""What to do with the rolls on the shelf: home, laboratory or wait."""
