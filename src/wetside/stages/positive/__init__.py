"""A roll of consistent positives, evened as far as the evidence allows."""
