"""A module for each cause: what it does to the station, how often it is met, and what it says."""
