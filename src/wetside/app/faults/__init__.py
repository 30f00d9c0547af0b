"""What went wrong: the first look, the causes of a run or a roll, experiments and how they came out."""
