"""Fair comparisons of sites, setups and antennas."""
