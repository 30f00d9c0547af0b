"""What a plan costs, and the proof that no other costs less."""
