"""What is true of film for anyone, with an empty book. Laws import `figures` and nothing else of wetside."""
