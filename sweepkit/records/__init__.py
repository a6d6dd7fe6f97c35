"""What the logbook has to hold a sweep against: an antenna's last setup, its nearest earlier state, a wire's past.

Each module is imported by itself, since what one command asks of the records the next does not need.
"""
